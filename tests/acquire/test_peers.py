"""Modbus TCP against implementations that share nothing with ours: pyModbusTCP, and libmodbus in C."""

import asyncio
import socket
import subprocess
import sys
import time

import pytest
from pyModbusTCP.server import DataBank, ModbusServer

from monitor.acquire.connection import Connection
from monitor.acquire.requests import request_for
from monitor.words import Block, Table
from tests.acquire.desk import good, in_loop, plan_for, running, source
from tests.acquire.test_serial import as_the_device_holds
from tests.peers.serial_line import DEVICE


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture
def libmodbus():
    port = free_port()
    process = subprocess.Popen([sys.executable, DEVICE, "tcp", str(port)], stdout=subprocess.PIPE)
    assert process.stdout.readline() == b"ready\n"
    yield port
    process.kill()
    process.wait()
    process.stdout.close()


@pytest.fixture
def py_modbus_tcp():
    bank = DataBank(coils_size=2000, d_inputs_size=2000, h_regs_size=2000, i_regs_size=2000)
    bank.set_holding_registers(0, [(7 * n + 3) & 0xFFFF for n in range(2000)])
    bank.set_input_registers(0, [(11 * n + 5) & 0xFFFF for n in range(2000)])
    bank.set_coils(0, [n % 3 == 0 for n in range(2000)])
    bank.set_discrete_inputs(0, [n % 5 == 0 for n in range(2000)])
    server = ModbusServer("127.0.0.1", free_port(), no_block=True, data_bank=bank)
    server.start()
    yield server.port
    server.stop()


@pytest.mark.parametrize("peer", ["libmodbus", "py_modbus_tcp"])
@in_loop
async def test_an_independent_device_is_read_as_it_stands(peer, request):
    port = request.getfixturevalue(peer)
    sources = [source(table=table, address=address) for table in Table for address in (0, 9, 300, 1999)]
    sources += [source(address=100 + i) for i in range(125)]
    async with running(plan_for(port, *sources, timeout_s=1.0)) as desk:
        await desk.until(lambda desk: len(desk.scans) >= 3)

    assert desk.changes == [True]
    assert all(good(read) and as_the_device_holds(read) for read in desk.reads)
    assert max(read.block.count for read in desk.reads) == 125


@in_loop
async def test_an_answer_that_waited_for_us_is_not_a_timeout(libmodbus):
    """The daemon was kept busy for longer than the timeout, the device was not late."""
    connection = Connection(plan_for(libmodbus).link, lambda: None)
    await connection.open()
    asking = asyncio.create_task(
        connection.ask(request_for(Block(1, Table.HOLDING_REGISTER, 0, 2, ())), timeout_s=0.05)
    )
    await asyncio.sleep(0)
    time.sleep(0.1)  # noqa: ASYNC251 - this is the busy daemon
    reply = await asking
    connection.close()

    assert reply.words == (3, 10)
    assert connection._timeouts == 0


@in_loop
async def test_a_read_past_the_end_is_an_exception_of_libmodbus(libmodbus):
    async with running(plan_for(libmodbus, source(address=0), source(address=2500), timeout_s=1.0)) as desk:
        await desk.until(lambda desk: len(desk.scans) >= 1)

    first, past = desk.scans[0].reads
    assert good(first)
    assert past.failure.detail == "exception 02, illegal data address"


@in_loop
async def test_a_read_past_the_end_that_comes_back_short_is_malformed(py_modbus_tcp):
    plan = plan_for(py_modbus_tcp, source(address=1999), source(address=2001), timeout_s=1.0)
    async with running(plan) as desk:
        await desk.until(lambda desk: len(desk.scans) >= 1)

    assert not any(good(read) for read in desk.scans[0].reads)
