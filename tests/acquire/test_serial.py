"""Modbus RTU over a pty pair, against libmodbus in a process of its own."""

import asyncio
import itertools

import pytest

from monitor.acquire.connection import Connection
from monitor.acquire.line_time import t35_s
from monitor.acquire.settings import Parity, Protocol, SerialPort
from monitor.words import Reason, Table
from tests.acquire.desk import good, in_loop, plan_for, reason_of, running, source
from tests.peers.serial_line import SerialLine

VALUE = {
    Table.HOLDING_REGISTER: lambda n: (7 * n + 3) & 0xFFFF,
    Table.INPUT_REGISTER: lambda n: (11 * n + 5) & 0xFFFF,
    Table.COIL: lambda n: int(n % 3 == 0),
    Table.DISCRETE_INPUT: lambda n: int(n % 5 == 0),
}


@pytest.fixture
def line(tmp_path):
    line = SerialLine(tmp_path)
    yield line
    line.close()


def serial_plan(line, *sources, **settings):
    where = SerialPort(device=str(line.near), **settings.pop("port", {}))
    settings = {"timeout_s": 0.2, "late_answer_s": 0.1, "scan_period_s": 0.1} | settings
    return plan_for(0, *sources, protocol=Protocol.RTU, where=where, **settings)


def as_the_device_holds(read):
    block = read.block
    return read.words == tuple(VALUE[block.table](block.address + i) for i in range(block.count))


@in_loop
async def test_all_tables_of_a_serial_device_are_read(line):
    sources = [source(table=table, address=address) for table in Table for address in (0, 40, 1990)]
    async with running(serial_plan(line, *sources)) as desk:
        await desk.until(lambda desk: len(desk.scans) >= 2)

    assert desk.changes == [True]
    assert len(desk.scans[0].reads) == 12
    assert all(good(read) and as_the_device_holds(read) for read in desk.reads)


@pytest.mark.parametrize(
    "port",
    [
        {"parity": Parity.NONE, "stop_bits": 2},
        {"parity": Parity.ODD},
        {"parity": Parity.EVEN, "baud": 115200},
        {"parity": Parity.NONE, "baud": 9600},
    ],
)
@in_loop
async def test_parity_and_stop_bits_reach_the_port(line, port):
    async with running(serial_plan(line, port=port)) as desk:
        await desk.until(lambda desk: len(desk.scans) >= 1)
        serial = desk.worker._connection._exchange.transport.sync_serial
        assert serial.baudrate == port.get("baud", 19200)
        assert serial.parity == "N"  # a pty has none; what a real port is told stands in the next test
        assert serial.stopbits == port.get("stop_bits", 1)
        assert serial.bytesize == 8

    assert good(desk.reads[0])


@pytest.mark.parametrize(("parity", "letter"), [(Parity.NONE, "N"), (Parity.ODD, "O"), (Parity.EVEN, "E")])
@in_loop
async def test_a_real_port_is_told_its_parity(parity, letter):
    link = plan_for(0, protocol=Protocol.RTU, where=SerialPort(device="/dev/ttyS0", parity=parity)).link

    assert Connection(link, lambda: None)._client.comm_params.parity == letter


@in_loop
async def test_silence_parts_a_reply_from_the_next_request(line):
    sources = [source(address=40 * i) for i in range(11)]
    plan = serial_plan(line, *sources, scan_period_s=3600.0)
    async with running(plan) as desk:
        await desk.until(lambda desk: len(desk.scans) >= 1)

    at = [read.at.mono_s for read in desk.reads]
    silence_s = t35_s(plan.link.where)
    assert all(later - earlier >= silence_s for earlier, later in itertools.pairwise(at))


@in_loop
async def test_a_pulled_adapter_is_noticed_at_once_and_recovers_when_put_back(line):
    async with running(serial_plan(line)) as desk:
        await desk.fresh(good)
        await asyncio.to_thread(line.pull)
        await desk.until(lambda desk: desk.changes == [True, False], within_s=0.5)
        await desk.fresh(lambda read: reason_of(read) is Reason.NO_CONNECTION)
        assert f"{line.near}" in desk.reads[-1].failure.detail

        await asyncio.to_thread(line.plug_in)
        await desk.fresh(good)
        assert as_the_device_holds(desk.reads[-1])
        assert desk.changes[-1] is True


@in_loop
async def test_a_serial_device_that_falls_silent_comes_back_proved(line):
    async with running(serial_plan(line, source(address=0), source(address=40), timeout_s=0.1)) as desk:
        await desk.until(lambda desk: len(desk.scans) >= 2)
        await asyncio.to_thread(line.deafen)
        await desk.fresh(lambda read: reason_of(read) is Reason.NO_ANSWER)
        await asyncio.to_thread(line.listen)
        await desk.fresh(good)
        await desk.fresh(good)

    assert desk.changes in ([], [True])
    assert all(as_the_device_holds(read) for read in desk.reads if good(read))


@in_loop
async def test_a_unit_that_is_not_on_the_line_never_lends_or_borrows_a_value(line):
    """libmodbus takes the request after one to an absent unit for its answer, so unit 1 loses some, too."""
    plan = serial_plan(line, source(1), source(1, 40, 2), source(9, 80), timeout_s=0.05, scan_period_s=0.05)
    async with running(plan) as desk:
        await desk.until(lambda desk: sum(map(good, desk.of(1))) >= 8)

    assert all(as_the_device_holds(read) for read in desk.of(1) if good(read))
    assert {reason_of(read) for read in desk.of(9)} == {Reason.NO_ANSWER}


@in_loop
async def test_a_port_that_is_not_there_is_named(tmp_path):
    where = SerialPort(device=str(tmp_path / "ttyUSB7"))
    async with running(plan_for(0, protocol=Protocol.RTU, where=where)) as desk:
        await desk.until(lambda desk: len(desk.scans) >= 2)

    assert desk.reads[0].failure.detail == f"cannot open {where.device}: no such file or directory"
    assert "ttyUSB7" in desk.worker.figures().last_error
