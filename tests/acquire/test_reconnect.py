"""Connections come and go; nothing is left behind."""

import asyncio
from pathlib import Path

import pytest

from monitor.acquire.connection import Connection
from monitor.acquire.requests import request_for
from monitor.acquire.settings import Protocol
from monitor.words import Block, Table
from tests.acquire.desk import good, in_loop, plan_for, right, running
from tests.peers.fault_device import Fault, FaultDevice, Kind


def open_files():
    return sum(1 for _ in Path("/proc/self/fd").iterdir())


async def all_settled():
    for _ in range(5):
        await asyncio.sleep(0.01)


@pytest.mark.parametrize(("framing", "protocol"), [("tcp", Protocol.TCP), ("rtu", Protocol.RTU_OVER_TCP)])
@in_loop
async def test_hundreds_of_connections_leave_no_socket_open(framing, protocol):
    request = request_for(Block(1, Table.HOLDING_REGISTER, 0, 4, ()))
    async with FaultDevice(framing) as device:
        link = plan_for(device.port, protocol=protocol).link
        before = open_files()
        for i in range(120):
            device.fault = Fault((Kind.OK, Kind.DROP, Kind.RESET, Kind.OK)[i % 4])
            connection = Connection(link, lambda: None)
            assert await connection.open() is None
            await connection.ask(request, 1.0)
            connection.close()
        await all_settled()

        assert open_files() == before
        assert device.connections == 0


@in_loop
async def test_five_hundred_reconnects_of_a_worker_leave_nothing_behind(monkeypatch):
    monkeypatch.setattr("monitor.acquire.worker.RECONNECT_FIRST_S", 0.0001)
    monkeypatch.setattr("monitor.acquire.worker.RECONNECT_MOST_S", 0.0001)
    async with FaultDevice() as device:
        plan = plan_for(device.port, scan_period_s=0.0005)
        before = (open_files(), len(asyncio.all_tasks()))
        async with running(plan) as desk:
            while device.accepted < 500:
                await desk.fresh(good)
                device.hang_up()
            await desk.fresh(good)
            assert all(right(read) for read in desk.reads if good(read))
            assert device.connections == 1
        await all_settled()

        assert device.connections == 0
        assert open_files() == before[0]
        # The device keeps one task for the unit it was asked for.
        assert len(asyncio.all_tasks()) <= before[1] + 1


@in_loop
async def test_refused_attempts_leave_nothing_behind():
    async with FaultDevice() as device:
        link = plan_for(device.port).link
        await device.refuse()
        before = open_files()
        for _ in range(200):
            connection = Connection(link, lambda: None)
            assert await connection.open() is not None
        await all_settled()

        assert open_files() == before


@in_loop
async def test_a_worker_ended_in_the_middle_of_a_request_closes_its_connection():
    async with FaultDevice(fault=Fault(Kind.HANG)) as device:
        async with running(plan_for(device.port, timeout_s=5.0)):
            await asyncio.sleep(0.05)
            assert device.connections == 1
        await all_settled()

        assert device.connections == 0
