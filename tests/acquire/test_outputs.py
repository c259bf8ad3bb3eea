"""What is written, when, to whom; and that it costs the reads next to nothing."""

import ast
import asyncio
import dataclasses
import itertools
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.acquire.framing import Malformed, MbapStream, RtuLine, Shape
from monitor.acquire.outputs import write_request
from monitor.acquire.settings import Output, Protocol, SerialPort
from monitor.words import Reason, Table
from tests.acquire.desk import good, in_loop, plan_for, right, running, source
from tests.peers.fault_device import OK, Fault, Kind, crc
from tests.peers.recording_device import RecordingDevice
from tests.peers.serial_line import SerialLine

TCP, RTU = Protocol.TCP, Protocol.RTU_OVER_TCP
FRAMING = {TCP: "tcp", RTU: "rtu"}
BOTH = pytest.mark.parametrize("protocol", [TCP, RTU])
HORN = Output(name="horn", unit_id=9, table=Table.COIL, address=172)
BEACON = Output(name="beacon", unit_id=9, table=Table.COIL, address=173, on=0, off=1)
HEARTBEAT = Output(name="heartbeat", unit_id=9, table=Table.HOLDING_REGISTER, address=40)
ALL = (HORN, BEACON, HEARTBEAT)
ON, OFF = 0xFF00, 0
AT_HORN, AT_BEACON, AT_HEARTBEAT = (9, 5, 172), (9, 5, 173), (9, 6, 40)


def plan_with(device, *sources, outputs=ALL, **settings):
    plan = plan_for(device.port, *sources, **settings)
    return dataclasses.replace(plan, sources=tuple(sources), outputs=tuple(outputs))


def device_for(protocol, **faults):
    return RecordingDevice(FRAMING[protocol], **faults)


async def until(holds, within_s=5.0):
    async with asyncio.timeout(within_s):
        while not holds():  # noqa: ASYNC110 - a device rings no bell
            await asyncio.sleep(0.005)


# ------------------------------------------------------------------ the one guard


def test_the_frames_are_those_of_the_specification():
    """Modbus Application Protocol V1.1b3 §6.5 (coil 173 on) and §6.6 (register 2 to 3)."""
    register = Output(name="heartbeat", unit_id=9, table=Table.HOLDING_REGISTER, address=1)
    plan = dataclasses.replace(plan_for(502), outputs=(HORN, register))
    for output, value, pdu in ((HORN, 1, "0500ACFF00"), (HORN, 0, "0500AC0000"), (register, 3, "0600010003")):
        request = write_request(plan, output, value)
        frame = b"\x09" + bytes.fromhex(pdu)
        assert request.rtu == frame + crc(frame)
        assert request.mbap == bytes.fromhex("0000000609" + pdu)
        assert request.shape.echo == bytes.fromhex(pdu)


outputs = st.builds(
    Output,
    name=st.sampled_from(("horn", "beacon", "heartbeat")),
    unit_id=st.integers(0, 255),
    table=st.sampled_from(list(Table)),
    address=st.integers(0, 3),
)


@given(st.lists(outputs, max_size=3), outputs, st.integers(-1, 0x10000))
def test_a_frame_is_made_for_an_output_of_the_plan_or_not_at_all(planned, output, value):
    plan = dataclasses.replace(plan_for(502), outputs=tuple(planned))
    most = {Table.COIL: 1, Table.HOLDING_REGISTER: 0xFFFF}.get(output.table)
    serves = 1 <= output.unit_id <= 247 or output.unit_id == 255
    allowed = output in planned and serves and most is not None and 0 <= value <= most
    try:
        request = write_request(plan, output, value)
    except (ValueError, KeyError):
        assert not allowed
        return
    assert allowed
    function = 5 if output.table is Table.COIL else 6
    assert request.rtu[:4] == bytes((output.unit_id, function)) + output.address.to_bytes(2, "big")
    assert request.mbap[4:8] == request.rtu[:4]


# ------------------------------------------------------------------ nothing else can write

MONITOR = Path(__file__).parents[2] / "monitor"
#: The simulated plant's server is a device, and makes no requests.
SERVER = "plant/server.py"


def trees():
    for file in sorted(MONITOR.rglob("*.py")):
        yield str(file.relative_to(MONITOR)), ast.parse(file.read_text())


def users_of(found):
    return {name for name, tree in trees() if name != SERVER and any(found(node) for node in ast.walk(tree))}


def named(node, *names):
    return (isinstance(node, ast.Name) and node.id in names) or (
        isinstance(node, ast.Attribute) and node.attr in names
    )


def test_frames_are_made_in_two_places_and_writing_ones_in_one():
    makes_frame = users_of(lambda node: isinstance(node, ast.Call) and named(node.func, "Request"))
    made_by_library = users_of(lambda node: named(node, "buildFrame"))
    asks_to_write = users_of(lambda node: isinstance(node, ast.Call) and named(node.func, "write_request"))

    assert {name for name in makes_frame if name.startswith("acquire/")} == {
        "acquire/outputs.py",
        "acquire/requests.py",
    }
    assert made_by_library == {"acquire/requests.py"}
    assert asks_to_write == {"acquire/outputs.py"}


def test_the_library_is_asked_for_read_requests_alone():
    imported = set()
    for name, tree in trees():
        for node in ast.walk(tree):
            if name != SERVER and isinstance(node, ast.ImportFrom) and (node.module or "").startswith("pymodbus"):
                imported |= {alias.name for alias in node.names}

    assert {name for name in imported if name.endswith("Request")} == {
        "ReadCoilsRequest",
        "ReadDiscreteInputsRequest",
        "ReadHoldingRegistersRequest",
        "ReadInputRegistersRequest",
    }
    assert imported - {name for name in imported if name.endswith("Request")} == {
        "AsyncModbusSerialClient",
        "AsyncModbusTcpClient",
        "DecodePDU",
        "FramerRTU",
        "FramerSocket",
        "FramerType",
        "ModbusPDU",
    }


def test_bytes_leave_a_link_in_one_place():
    def sends(node):
        return isinstance(node, ast.Call) and named(node.func, "write", "writelines", "send", "sendall", "sendto")

    links = {name for name in users_of(sends) if name.startswith("acquire/")}
    of_frames = {"acquire/connection.py"}
    calls_outputs = {"acquire/worker.py"}  # self._outputs.write, which makes its frames by the guard
    assert links == of_frames | calls_outputs


# ------------------------------------------------------------------ what is an answer to a write

WRITTEN = Shape(5, 4, bytes.fromhex("0500ACFF00"))
OTHER = bytes.fromhex("0500AC0000")
READ = Shape(3, 2)


def rtu(pdu, unit_id=9):
    frame = bytes((unit_id,)) + pdu
    return frame + crc(frame)


def mbap(pdu, transaction=7):
    return transaction.to_bytes(2, "big") + bytes((0, 0, 0, len(pdu) + 1, 9)) + pdu


def test_on_tcp_the_answer_is_the_request_to_the_byte():
    for pdu in (WRITTEN.echo, b"\x85\x02"):
        wire = MbapStream()
        wire.expect(9, WRITTEN)
        assert wire.feed(mbap(pdu), 7) == mbap(pdu)
    for pdu in (OTHER, bytes.fromhex("0600ACFF00"), WRITTEN.echo + b"\0", WRITTEN.echo[:-1], b"\x83\x02"):
        wire = MbapStream()
        wire.expect(9, WRITTEN)
        assert isinstance(wire.feed(mbap(pdu), 7), Malformed)


@pytest.mark.parametrize("late", [WRITTEN.echo, OTHER, bytes.fromhex("0600280007")])
def test_on_rtu_an_echo_is_never_an_answer_to_a_read(late):
    answer = rtu(bytes.fromhex("03020102"))
    line = RtuLine()
    line.expect(9, READ)
    assert line.feed(rtu(late), 0) is None
    assert line.feed(answer, 0) == answer
    line.expect(9, READ)
    assert line.feed(rtu(late) + answer, 0) == answer
    line.expect(9, READ)
    assert [line.feed(bytes((byte,)), 0) for byte in rtu(late) + answer][-1] == answer


def test_on_rtu_a_late_exception_to_a_write_is_none_to_a_read():
    line = RtuLine()
    line.expect(9, READ, {WRITTEN})
    assert line.feed(rtu(b"\x85\x02"), 0) is None


def test_on_rtu_an_earlier_writes_echo_is_not_this_ones():
    line = RtuLine()
    line.expect(9, WRITTEN)
    assert line.feed(rtu(OTHER), 0) is None
    assert line.feed(rtu(WRITTEN.echo, unit_id=8), 0) is None
    assert line.feed(rtu(WRITTEN.echo), 0) == rtu(WRITTEN.echo)


def test_an_adapter_that_sends_our_requests_back_does_not_answer_for_the_device():
    line = RtuLine()
    line.expect(1, READ)
    asked, answer = rtu(bytes.fromhex("0300000001"), 1), rtu(bytes.fromhex("03020102"), 1)
    assert line.feed(asked + answer, 0) == answer
    line.rest(unanswered=False)
    line.expect(9, WRITTEN)
    assert line.feed(rtu(WRITTEN.echo), 0) is None
    assert not line.unfit
    assert line.feed(rtu(WRITTEN.echo), 0) == rtu(WRITTEN.echo)


# ------------------------------------------------------------------ at work


@BOTH
@in_loop
async def test_what_is_set_is_written_and_nothing_before(protocol):
    async with (
        device_for(protocol) as device,
        running(plan_with(device, source(1), source(9), protocol=protocol)) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) >= 4)
        assert not device.writes
        desk.worker.set_outputs({"horn": 1, "beacon": 0, "heartbeat": 7})
        await until(lambda: not desk.worker.figures().unwritten)
        assert device.written == {AT_HORN: ON, AT_BEACON: OFF, AT_HEARTBEAT: 7}
        desk.worker.set_outputs({"horn": 0})
        await until(lambda: device.written[AT_HORN] == OFF)
        figures = desk.worker.figures()

    assert device.entries == {AT_HORN, AT_BEACON, AT_HEARTBEAT}
    assert (len(device.writes), figures.write_failures) == (4, 0)
    assert device.accepted == 1
    assert all(right(read) for read in desk.reads)


@in_loop
async def test_a_name_or_a_value_that_cannot_be_is_our_fault_and_changes_nothing():
    async with device_for(TCP) as device, running(plan_with(device, source(1))) as desk:
        with pytest.raises(KeyError):
            desk.worker.set_outputs({"horn": 1, "fan": 1})
        with pytest.raises(ValueError, match="2 does not fit into the coil of horn"):
            desk.worker.set_outputs({"heartbeat": 1, "horn": 2})
        await desk.until(lambda desk: len(desk.scans) >= 3)

    assert not device.writes


@BOTH
@in_loop
async def test_without_outputs_nothing_is_ever_written(protocol):
    async with (
        device_for(protocol) as device,
        running(plan_with(device, source(1), outputs=(), protocol=protocol)) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) >= 5)
        with pytest.raises(KeyError):
            desk.worker.set_outputs({"horn": 1})

    assert not device.writes


@BOTH
@in_loop
async def test_between_two_scans_it_is_written_at_once_and_the_scans_keep_their_pace(protocol):
    async with (
        device_for(protocol) as device,
        running(plan_with(device, source(1), protocol=protocol, scan_period_s=3600.0)) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) == 1)
        for value in (1, 0, 1):
            desk.worker.set_outputs({"horn": value})
            await until(lambda v=value: device.written.get(AT_HORN) == v * ON, within_s=0.5)

    assert len(desk.scans) == 1
    assert len(device.writes) == 3


@BOTH
@in_loop
async def test_a_unit_that_is_only_written_needs_no_points(protocol):
    async with device_for(protocol) as device, running(plan_with(device, protocol=protocol)) as desk:
        desk.worker.set_outputs({"horn": 1})
        await until(lambda: device.written == {AT_HORN: ON})
        await until(lambda: desk.changes == [True])
        device.fault = Fault(Kind.HANG)
        desk.worker.set_outputs({"horn": 0})
        await until(lambda: desk.worker.figures().write_failures >= 2)
        device.fault = OK
        await until(lambda: device.written == {AT_HORN: OFF})

    assert desk.changes[0]
    assert not desk.reads


@BOTH
@in_loop
async def test_a_restarted_annunciator_gets_its_state_back(protocol, monkeypatch):
    monkeypatch.setattr("monitor.acquire.outputs.REFRESH_S", 0.2)
    async with (
        device_for(protocol) as device,
        running(plan_with(device, source(1), protocol=protocol)) as desk,
    ):
        desk.worker.set_outputs({"horn": 1, "beacon": 1, "heartbeat": 5})
        await until(lambda: len(device.written) == 3)
        before = dict(device.written)
        device.written.clear()  # the device behind a gateway: the connection stands
        await until(lambda: device.written == before, within_s=1.0)
        device.restart()
        await until(lambda: device.written == before, within_s=2.0)

    assert device.entries == set(before)


@BOTH
@in_loop
async def test_a_failed_write_is_tried_again_and_counted(protocol):
    async with (
        device_for(protocol, blocks={AT_HORN: Fault(Kind.EXCEPTION, code=4)}) as device,
        running(plan_with(device, source(1), protocol=protocol)) as desk,
    ):
        desk.worker.set_outputs({"horn": 1, "heartbeat": 3})
        await until(lambda: desk.worker.figures().write_failures >= 3)
        figures = desk.worker.figures()
        assert device.written == {AT_HEARTBEAT: 3}
        assert figures.unwritten == ("horn",)
        assert figures.last_error.startswith("writing horn: exception 04")
        device.blocks.clear()
        await until(lambda: device.written.get(AT_HORN) == ON)
        await until(lambda: not desk.worker.figures().unwritten)

    horn = [write.at_s for write in device.writes if write.address == HORN.address]
    assert min(later - earlier for earlier, later in itertools.pairwise(horn)) >= 0.04
    assert all(right(read) for read in desk.reads)


@BOTH
@in_loop
async def test_an_answer_that_repeats_something_else_is_a_failure(protocol):
    async with (
        device_for(protocol, blocks={AT_HORN: Fault(Kind.ODD)}) as device,
        running(plan_with(device, source(1), protocol=protocol)) as desk,
    ):
        desk.worker.set_outputs({"horn": 1})
        await until(lambda: desk.worker.figures().write_failures >= 2)
        assert desk.worker.figures().unwritten == ("horn",)

    assert all(right(read) for read in desk.reads)


@pytest.mark.parametrize("unit_id", [1, 9])
@BOTH
@in_loop
async def test_a_silent_annunciator_costs_a_scan_one_timeout_at_most_and_no_reading(protocol, unit_id):
    """Also where the unit that ignores writes is the one that is read."""
    outputs = [dataclasses.replace(output, unit_id=unit_id) for output in ALL]
    silent = {(unit_id, *at[1:]): Fault(Kind.HANG) for at in (AT_HORN, AT_BEACON, AT_HEARTBEAT)}
    async with device_for(protocol, blocks=silent) as device:
        plan = plan_with(device, source(1), source(2), outputs=outputs, protocol=protocol, timeout_s=0.15)
        async with running(plan) as desk:
            for count in range(12):
                await desk.until(lambda desk, n=count: len(desk.scans) >= 2 * n)
                desk.worker.set_outputs({"horn": count % 2, "beacon": count % 2, "heartbeat": count})
            figures = desk.worker.figures()

    at = [read.at.mono_s for read in desk.of(2)]
    assert max(later - earlier for earlier, later in itertools.pairwise(at)) < 0.1 + 0.15 + 0.2
    assert all(right(read) for read in desk.reads)
    assert desk.changes == [True]
    assert figures.write_failures == figures.writes >= 2
    # Ever more rarely: twelve scans, and not one timeout in each.
    assert figures.writes <= 7


@BOTH
@in_loop
async def test_a_device_that_hangs_up_at_a_write_keeps_its_readings(protocol):
    async with (
        device_for(protocol, blocks={AT_HORN: Fault(Kind.DROP)}) as device,
        running(plan_with(device, source(1), source(9), protocol=protocol)) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) >= 2)
        desk.worker.set_outputs({"horn": 1})
        await until(lambda: desk.worker.figures().write_failures >= 3)

    assert desk.changes == [True]
    assert all(right(read) for read in desk.reads)


@in_loop
async def test_a_peer_that_hangs_up_at_every_write_and_is_not_read_is_a_link_that_is_down():
    async with device_for(TCP, accept_and_close=True) as device, running(plan_with(device)) as desk:
        desk.worker.set_outputs({"horn": 1})
        await until(lambda: desk.changes == [False])
        await asyncio.sleep(0.5)
        assert device.accepted <= 3  # each a failed one, with a growing wait behind it
        device.accept_and_close = False
        await until(lambda: device.written == {AT_HORN: ON})
        await until(lambda: desk.changes == [False, True])


@pytest.mark.parametrize("seed", range(2))
@in_loop
async def test_writes_among_late_answers_never_yield_a_wrong_value(seed, monkeypatch):
    """On a shared RTU line everything is late at random: reads, writes, and the echoes of those given up."""
    for place in ("step.FORGET_S", "unit.MOST_SILENT_S", "silence.MOST_SILENT_S"):
        monkeypatch.setattr(f"monitor.acquire.{place}", 60.0 / 50)
    monkeypatch.setattr("monitor.acquire.outputs.REFRESH_S", 0.1)
    monkeypatch.setattr("monitor.acquire.outputs.RETRY_MOST_S", 0.1)
    sources = [source(unit_id, address) for unit_id in (1, 9) for address in (0, 20, 40)]
    late = Fault(Kind.LATE_AT_RANDOM, seconds=0.1, share=0.4)
    async with RecordingDevice("rtu", late, shared_line=True, seed=seed) as device:
        plan = plan_with(device, *sources, protocol=RTU, timeout_s=0.02, late_answer_s=0.06, scan_period_s=0.02)
        async with running(plan) as desk:
            for count in range(60):
                desk.worker.set_outputs({"horn": count % 2, "beacon": count // 2 % 2, "heartbeat": count})
                await asyncio.sleep(0.04)
            device.fault = OK
            await until(lambda: not desk.worker.figures().unwritten)
            await asyncio.sleep(0.15)
            written = dict(device.written)
            figures = desk.worker.figures()

    assert not [read for read in desk.reads if good(read) and not right(read)]
    assert sum(map(good, desk.reads)) > 20
    assert Reason.NO_ANSWER in figures.failures
    assert figures.write_failures > 3
    assert written == {AT_HORN: ON, AT_BEACON: ON, AT_HEARTBEAT: 59}


@in_loop
async def test_a_late_refusal_of_a_write_on_rtu_costs_no_reading():
    """It comes while the unit is read: 0.15 s after a write that was given up after 0.1 s."""
    late = {AT_HORN: Fault(Kind.LATE, seconds=0.15)}
    async with (
        device_for(RTU, shared_line=True, blocks=late, refuses={(9, HORN.address)}) as device,
        running(plan_with(device, source(9), protocol=RTU)) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) >= 2)
        desk.worker.set_outputs({"horn": 1})
        await until(lambda: desk.worker.figures().write_failures >= 2)
        await desk.fresh(good)

    assert all(right(read) for read in desk.reads)
    assert not desk.worker.figures().failures


@in_loop
async def test_an_unanswered_write_on_rtu_leaves_the_unit_unwritten_for_its_late_answer():
    async with (
        device_for(RTU, shared_line=True, blocks={AT_HORN: Fault(Kind.HANG)}) as device,
        running(plan_with(device, source(9), protocol=RTU, late_answer_s=0.5)) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) >= 2)
        desk.worker.set_outputs({"horn": 1})
        await until(lambda: device.writes)
        desk.worker.set_outputs({"beacon": 1, "heartbeat": 1})
        await until(lambda: len(device.writes) >= 2)
        assert device.accepted == 2  # closed and opened again in between

    first, second = device.writes[:2]
    assert second.at_s - first.at_s >= 0.5
    assert all(right(read) for read in desk.reads)


# ------------------------------------------------------------------ another plan

MOVED = dataclasses.replace(HORN, address=300)


@BOTH
@in_loop
async def test_after_a_replan_no_address_of_the_old_plan_is_written(protocol, monkeypatch):
    monkeypatch.setattr("monitor.acquire.outputs.REFRESH_S", 0.05)
    async with device_for(protocol) as device:
        old = plan_with(device, source(1), outputs=(HORN, HEARTBEAT), protocol=protocol)
        async with running(old) as desk:
            desk.worker.set_outputs({"horn": 1, "heartbeat": 1})
            await until(lambda: len(device.writes) >= 4)
            desk.worker.replan(dataclasses.replace(old, outputs=(MOVED, HEARTBEAT)))
            seen = len(device.writes) + 1  # one may be on its way
            await until(lambda: len(device.writes) >= seen + 3)
            assert (9, 5, 300) not in device.entries  # nobody has said yet what it shall show
            desk.worker.set_outputs({"horn": 1})
            await until(lambda: device.written.get((9, 5, 300)) == ON)
            await asyncio.sleep(0.2)

    assert {write[:3] for write in device.writes[seen:]} == {(9, 5, 300), AT_HEARTBEAT}


@in_loop
async def test_a_plan_that_leads_elsewhere_writes_there_alone():
    async with device_for(TCP) as here, device_for(TCP) as there, running(plan_with(here, source(1))) as desk:
        desk.worker.set_outputs({"horn": 1})
        await until(lambda: here.writes)
        desk.worker.replan(plan_with(there, source(1)))
        desk.worker.set_outputs({"horn": 1, "beacon": 1})
        await until(lambda: len(there.written) == 2)

    assert len(here.writes) == 1


@in_loop
async def test_a_plan_that_comes_amid_the_writing_ends_it_at_once():
    """Its outputs are the same, but they are another device's now."""
    async with (
        device_for(TCP) as here,
        device_for(TCP) as there,
        running(plan_with(here, source(1), timeout_s=1.0)) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) >= 2)
        here.fault = Fault(Kind.LATE, seconds=0.1)
        desk.worker.set_outputs({"horn": 1, "beacon": 1, "heartbeat": 1})
        await until(lambda: here.writes)
        desk.worker.replan(plan_with(there, source(1)))
        desk.worker.set_outputs({"horn": 0, "beacon": 0, "heartbeat": 2})
        await until(lambda: len(there.written) == 3)

    assert len(here.writes) == 1
    assert there.written == {AT_HORN: OFF, AT_BEACON: OFF, AT_HEARTBEAT: 2}


@in_loop
async def test_a_plan_without_outputs_ends_the_writing(monkeypatch):
    monkeypatch.setattr("monitor.acquire.outputs.REFRESH_S", 0.05)
    async with device_for(TCP) as device:
        plan = plan_with(device, source(1))
        async with running(plan) as desk:
            desk.worker.set_outputs({"horn": 1})
            await until(lambda: len(device.writes) >= 2)
            desk.worker.replan(dataclasses.replace(plan, outputs=()))
            seen = len(device.writes) + 1
            await asyncio.sleep(0.5)

    assert len(device.writes) <= seen


# ------------------------------------------------------------------ a device in C on a serial line


@in_loop
async def test_libmodbus_on_a_serial_line_holds_what_was_written(tmp_path):
    horn, beat = (dataclasses.replace(output, unit_id=1, address=4) for output in (HORN, HEARTBEAT))
    line = SerialLine(tmp_path)
    try:
        where = SerialPort(device=str(line.near))
        settings = {"timeout_s": 0.2, "late_answer_s": 0.1, "scan_period_s": 0.1}
        sources = (source(table=Table.COIL, address=4), source(table=Table.HOLDING_REGISTER, address=4))
        plan = plan_for(0, *sources, protocol=Protocol.RTU, where=where, **settings)
        async with running(dataclasses.replace(plan, outputs=(horn, beat))) as desk:
            for bit, word in ((1, 0xABCD), (0, 0x0102)):
                desk.worker.set_outputs({"horn": bit, "heartbeat": word})
                await desk.until(lambda desk, read=(bit, word): last_words(desk)[-2:] == [*read])
            figures = desk.worker.figures()
    finally:
        line.close()

    assert (figures.writes, figures.write_failures) == (4, 0)
    assert all(map(good, desk.reads))


def last_words(desk):
    return [word for read in desk.reads for word in read.words]
