"""Every block of every link a single time."""

import asyncio
import time

from monitor.acquire.once import read_once
from monitor.acquire.settings import Protocol
from monitor.clock import Clock
from monitor.words import Reason
from tests.acquire.desk import good, in_loop, plan_for, reason_of, right, source
from tests.peers.fault_device import Fault, FaultDevice, Kind


@in_loop
async def test_all_links_are_read_once_side_by_side_and_closed():
    slow = Fault(Kind.LATE, seconds=0.2)
    async with FaultDevice(fault=slow) as north, FaultDevice("rtu", fault=slow) as south:
        plans = [
            plan_for(north.port, source(1), source(2), timeout_s=1.0),
            plan_for(south.port, source(3), source(3, 40), timeout_s=1.0, protocol=Protocol.RTU_OVER_TCP),
        ]
        began_s = time.monotonic()
        reads = await read_once(plans, Clock())
        took_s = time.monotonic() - began_s
        await asyncio.sleep(0.02)

        assert north.connections == south.connections == 0

    assert took_s < 0.6
    assert [(read.block.unit_id, read.block.address) for read in reads] == [(1, 0), (2, 0), (3, 0), (3, 40)]
    assert all(good(read) and right(read) for read in reads)


@in_loop
async def test_a_silent_unit_is_asked_once_and_the_others_still_answer():
    for framing, protocol in (("tcp", Protocol.TCP), ("rtu", Protocol.RTU_OVER_TCP)):
        async with FaultDevice(framing, units={1: Fault(Kind.HANG)}) as device:
            plan = plan_for(device.port, source(1), source(1, 40), source(2), protocol=protocol)
            reads = await read_once([plan], Clock())

        assert [reason_of(read) for read in reads] == [Reason.NO_ANSWER, Reason.NO_ANSWER, None]
        assert [seen.unit_id for seen in device.requests] == [1, 2]


@in_loop
async def test_a_link_that_cannot_be_opened_is_tried_once():
    async with FaultDevice() as device:
        await device.refuse()
        reads = await read_once([plan_for(device.port, source(1), source(2))], Clock())

    assert [reason_of(read) for read in reads] == [Reason.NO_CONNECTION] * 2


@in_loop
async def test_nothing_to_read_opens_nothing():
    assert await read_once([], Clock()) == []
