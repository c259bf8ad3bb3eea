"""One connection against a device that does everything wrong, on both framings."""

import asyncio
import time

import pytest

from monitor.acquire.connection import Connection
from monitor.acquire.requests import request_for
from monitor.acquire.settings import Protocol
from monitor.words import Block, Reason, Table
from tests.acquire.desk import in_loop, plan_for
from tests.peers.fault_device import Fault, FaultDevice, Kind, bit_value, register_value

HOLDING = Table.HOLDING_REGISTER
FRAMINGS = [("tcp", Protocol.TCP), ("rtu", Protocol.RTU_OVER_TCP)]


def block(address=0, count=4, table=HOLDING, unit_id=1):
    return Block(unit_id, table, address, count, ())


class Wired:
    """A connection to a device; ``lost`` counts how often its loss was told."""

    def __init__(self, device, protocol, **settings):
        self.link = plan_for(device.port, protocol=protocol, **settings).link
        self.lost = 0
        self.connection = Connection(self.link, self._lose)

    def _lose(self):
        self.lost += 1

    async def ask(self, timeout_s=0.1, **what):
        return await self.connection.ask(request_for(block(**what)), timeout_s)


async def wired(device, protocol, **settings):
    wire = Wired(device, protocol, **settings)
    assert await wire.connection.open() is None
    return wire


EXAMPLES = [
    # Modbus Application Protocol V1.1b3 §6.1 to §6.4: request and answer as printed, and what they mean.
    (
        block(0x13, 0x13, Table.COIL),
        "0100130013",
        "0103CD6B05",
        (1, 0, 1, 1, 0, 0, 1, 1, 1, 1, 0, 1, 0, 1, 1, 0, 1, 0, 1),
    ),
    (
        block(0xC4, 0x16, Table.DISCRETE_INPUT),
        "0200C40016",
        "0203ACDB35",
        (0, 0, 1, 1, 0, 1, 0, 1, 1, 1, 0, 1, 1, 0, 1, 1, 1, 0, 1, 0, 1, 1),
    ),
    (block(0x6B, 3, HOLDING), "03006B0003", "0306022B00000064", (555, 0, 100)),
    (block(0x08, 1, Table.INPUT_REGISTER), "0400080001", "0402000A", (10,)),
]


@pytest.mark.parametrize(("asked", "request_pdu", "reply_pdu", "words"), EXAMPLES)
@pytest.mark.parametrize(("framing", "protocol"), FRAMINGS)
@in_loop
async def test_the_examples_of_the_specification_on_the_wire(
    framing, protocol, asked, request_pdu, reply_pdu, words
):
    answers = {bytes.fromhex(request_pdu): bytes.fromhex(reply_pdu)}
    async with FaultDevice(framing, answers=answers) as device:
        wire = await wired(device, protocol)
        reply = await wire.connection.ask(request_for(asked), 0.5)
        wire.connection.close()

    raw = device.requests[0].raw.hex().upper()
    if framing == "tcp":
        assert raw == f"000100000006{1:02X}{request_pdu}"
    else:
        assert raw[:-4] == f"{1:02X}{request_pdu}"  # the device has checked the CRC, bit by bit
    assert reply.words == words


@in_loop
async def test_the_crc_on_the_wire_is_the_one_worked_by_hand():
    async with FaultDevice("rtu") as device:
        wire = await wired(device, Protocol.RTU_OVER_TCP)
        await wire.ask(address=0x6B, count=3, unit_id=0x11)
        wire.connection.close()

    assert device.requests[0].raw.hex() == "1103006b00037687"


@pytest.mark.parametrize("table", list(Table))
@pytest.mark.parametrize("kind", [Kind.OK, Kind.IN_PIECES, Kind.TWICE])
@pytest.mark.parametrize(("framing", "protocol"), FRAMINGS)
@in_loop
async def test_each_table_comes_back_as_it_stands_in_the_device(framing, protocol, table, kind):
    async with FaultDevice(framing, Fault(kind)) as device:
        wire = await wired(device, protocol)
        for address, count in ((3, 17), (900, 1)):
            reply = await wire.ask(timeout_s=1.0, address=address, count=count, table=table)

            function = request_for(block(table=table)).shape.function
            value = bit_value if table.is_bit else register_value
            assert reply.words == tuple(value(1, function, address + i) for i in range(count))
        wire.connection.close()


#: What each fault looks like to us: reason, whether it was known before the time ran out, still usable.
FAST, SLOW = True, False
ON_TCP = [
    (Kind.HANG, Reason.NO_ANSWER, SLOW, True),
    (Kind.SHORT, Reason.NO_ANSWER, SLOW, False),
    (Kind.WRONG_TRANSACTION, Reason.NO_ANSWER, SLOW, True),
    (Kind.DROP, Reason.NO_CONNECTION, FAST, False),
    (Kind.RESET, Reason.NO_CONNECTION, FAST, False),
    (Kind.FEWER, Reason.MALFORMED_REPLY, FAST, True),
    (Kind.MORE, Reason.MALFORMED_REPLY, FAST, True),
    (Kind.ZERO, Reason.MALFORMED_REPLY, FAST, True),
    (Kind.ODD, Reason.MALFORMED_REPLY, FAST, True),
    (Kind.COUNT_LIES, Reason.MALFORMED_REPLY, FAST, True),
    (Kind.OTHER_UNIT, Reason.MALFORMED_REPLY, FAST, True),
    (Kind.OTHER_FUNCTION, Reason.MALFORMED_REPLY, FAST, True),
    (Kind.GARBAGE, Reason.MALFORMED_REPLY, FAST, False),
    (Kind.ZERO_TRANSACTION, None, FAST, True),
]
ON_RTU = [
    (Kind.HANG, Reason.NO_ANSWER, SLOW, False),
    (Kind.SHORT, Reason.MALFORMED_REPLY, SLOW, False),
    (Kind.BAD_CRC, Reason.MALFORMED_REPLY, SLOW, False),
    (Kind.COUNT_LIES, Reason.MALFORMED_REPLY, SLOW, False),
    (Kind.OTHER_UNIT, Reason.MALFORMED_REPLY, SLOW, False),
    (Kind.GARBAGE, Reason.MALFORMED_REPLY, SLOW, False),
    (Kind.DROP, Reason.NO_CONNECTION, FAST, False),
    (Kind.RESET, Reason.NO_CONNECTION, FAST, False),
    (Kind.FEWER, Reason.MALFORMED_REPLY, FAST, False),
    (Kind.MORE, Reason.MALFORMED_REPLY, FAST, False),
    (Kind.ZERO, Reason.MALFORMED_REPLY, FAST, False),
    (Kind.ODD, Reason.MALFORMED_REPLY, FAST, False),
    (Kind.OTHER_FUNCTION, Reason.MALFORMED_REPLY, FAST, False),
    (Kind.NOISE_BEFORE, None, FAST, True),
    (Kind.NOISE_AFTER, None, FAST, True),
    (Kind.ECHO, None, FAST, True),
]


async def _suffers(framing, protocol, kind, reason, fast, usable):
    async with FaultDevice(framing, Fault(kind)) as device:
        wire = await wired(device, protocol)
        began_s = time.monotonic()
        reply = await wire.ask(timeout_s=0.15)
        took_s = time.monotonic() - began_s

        assert (reply.failure.reason if reply.failure else None) is reason, reply
        assert bool(reply.words) is (reason is None)
        assert (took_s < 0.1) is fast, took_s
        assert wire.connection.usable is usable
        assert wire.lost == (1 if reason is Reason.NO_CONNECTION else 0)
        if usable:
            device.fault = Fault()
            assert (await wire.ask(address=50)).words == tuple(register_value(1, 3, 50 + i) for i in range(4))
        wire.connection.close()


@pytest.mark.parametrize(("kind", "reason", "fast", "usable"), ON_TCP)
@in_loop
async def test_every_fault_on_tcp_is_named_and_never_a_value(kind, reason, fast, usable):
    await _suffers("tcp", Protocol.TCP, kind, reason, fast, usable)


@pytest.mark.parametrize(("kind", "reason", "fast", "usable"), ON_RTU)
@in_loop
async def test_every_fault_on_rtu_framing_is_named_and_never_a_value(kind, reason, fast, usable):
    await _suffers("rtu", Protocol.RTU_OVER_TCP, kind, reason, fast, usable)


@pytest.mark.parametrize(
    ("code", "reason", "says"),
    [
        (1, Reason.EXCEPTION_CODE, "exception 01, illegal function"),
        (2, Reason.EXCEPTION_CODE, "exception 02, illegal data address"),
        (3, Reason.EXCEPTION_CODE, "exception 03, illegal data value"),
        (4, Reason.EXCEPTION_CODE, "exception 04, server device failure"),
        (5, Reason.EXCEPTION_CODE, "exception 05, acknowledge (busy: asked again at the next scan)"),
        (6, Reason.EXCEPTION_CODE, "exception 06, server device busy (busy: asked again at the next scan)"),
        (8, Reason.EXCEPTION_CODE, "exception 08, memory parity error"),
        (0x0A, Reason.NO_ANSWER, "exception 0A, gateway path unavailable"),
        (0x0B, Reason.NO_ANSWER, "exception 0B, gateway target device failed to respond"),
        (0x7F, Reason.EXCEPTION_CODE, "exception 7F, not in the Modbus specification"),
    ],
)
@pytest.mark.parametrize(("framing", "protocol"), FRAMINGS)
@in_loop
async def test_exception_codes_carry_the_names_of_the_specification(framing, protocol, code, reason, says):
    async with FaultDevice(framing, Fault(Kind.EXCEPTION, code=code)) as device:
        wire = await wired(device, protocol)
        reply = await wire.ask()
        wire.connection.close()

    assert (reply.failure.reason, reply.failure.detail) == (reason, says)
    assert reply.answered


@in_loop
async def test_on_tcp_a_late_answer_is_never_the_next_ones():
    async with FaultDevice("tcp", Fault(Kind.LATE, seconds=0.08)) as device:
        wire = await wired(device, Protocol.TCP)
        first = await wire.ask(timeout_s=0.04, address=100)
        device.fault = Fault()
        second = await wire.ask(timeout_s=0.5, address=200)
        wire.connection.close()

    assert first.failure.reason is Reason.NO_ANSWER
    assert second.words == tuple(register_value(1, 3, 200 + i) for i in range(4))


@in_loop
async def test_on_tcp_a_late_answer_without_a_transaction_is_not_believed():
    async with FaultDevice("tcp", Fault(Kind.HANG)) as device:
        wire = await wired(device, Protocol.TCP)
        await wire.ask(timeout_s=0.04, address=100)
        device.fault = Fault(Kind.ZERO_TRANSACTION)
        second = await wire.ask(timeout_s=0.5, address=200)
        wire.connection.close()

    assert second.failure.reason is Reason.MALFORMED_REPLY
    assert not wire.connection.usable


@in_loop
async def test_on_tcp_the_connection_is_given_up_after_three_timeouts_in_a_row():
    async with FaultDevice("tcp", Fault(Kind.HANG)) as device:
        wire = await wired(device, Protocol.TCP)
        usable = []
        for fault in (Kind.HANG, Kind.HANG, Kind.OK, Kind.HANG, Kind.HANG, Kind.HANG):
            device.fault = Fault(fault)
            await wire.ask(timeout_s=0.03)
            usable.append(wire.connection.usable)
        wire.connection.close()

    assert usable == [True, True, True, True, True, False]


@in_loop
async def test_closing_ends_the_request_in_flight_and_is_no_loss():
    async with FaultDevice("tcp", Fault(Kind.HANG)) as device:
        wire = await wired(device, Protocol.TCP)
        asking = asyncio.create_task(wire.ask(timeout_s=5.0))
        await asyncio.sleep(0.03)
        wire.connection.close()
        reply = await asking

    assert reply.failure.reason is Reason.NO_CONNECTION
    assert wire.lost == 0
    assert (await wire.ask()).failure.reason is Reason.NO_CONNECTION


@in_loop
async def test_a_cancelled_request_leaves_the_connection_fit_for_the_next():
    async with FaultDevice("tcp", Fault(Kind.LATE, seconds=0.05)) as device:
        wire = await wired(device, Protocol.TCP)
        asking = asyncio.create_task(wire.ask(timeout_s=5.0, address=100))
        await asyncio.sleep(0.02)
        asking.cancel()
        await asyncio.wait([asking])
        reply = await wire.ask(timeout_s=1.0, address=200)
        wire.connection.close()

    assert reply.words == tuple(register_value(1, 3, 200 + i) for i in range(4))


@in_loop
async def test_why_a_connection_does_not_open_is_said():
    async with FaultDevice("tcp") as device:
        await device.refuse()
        wire = Wired(device, Protocol.TCP)
        failure = await wire.connection.open()

    assert failure.reason is Reason.NO_CONNECTION
    assert failure.detail == f"cannot open 127.0.0.1:{device.port}: connection refused"


@in_loop
async def test_nothing_is_logged_by_the_library(caplog):
    async with FaultDevice("tcp") as device:
        for kind in Kind:
            device.fault = Fault(kind, code=2)
            wire = await wired(device, Protocol.TCP)
            await wire.ask(timeout_s=0.05)
            wire.connection.close()
            await asyncio.sleep(0)

    assert [record.getMessage() for record in caplog.records] == []


@in_loop
async def test_an_adapter_that_echoes_in_front_of_a_silent_device_is_no_malformed_reply():
    async with FaultDevice("rtu", Fault(Kind.ECHO_ALONE)) as device:
        wire = await wired(device, Protocol.RTU_OVER_TCP)
        reply = await wire.ask()
        wire.connection.close()

    assert reply.failure.reason is Reason.NO_ANSWER
