"""A device that answers some requests only: what it answers is read, and what it does not costs little."""

import asyncio
from collections import Counter

import pytest

from monitor.acquire.settings import Protocol
from monitor.words import Reason, Table
from tests.acquire.desk import good, in_loop, plan_for, reason_of, right, running, source
from tests.peers.fault_device import Fault, FaultDevice, Kind

COIL, HOLDING = Table.COIL, Table.HOLDING_REGISTER
RTU = Protocol.RTU_OVER_TCP
HEADER, FAN = (1, 3, 200), (1, 1, 5)
SILENCES = {
    "hangs": Fault(Kind.HANG),
    "drops the connection": Fault(Kind.DROP),
    "resets the connection": Fault(Kind.RESET),
    "says gateway exception 0B": Fault(Kind.EXCEPTION, code=0x0B),
    "sends garbage": Fault(Kind.GARBAGE),
}


def dp_reads(desk):
    return [read for read in desk.of(1) if (read.block.table, read.block.address) == (HOLDING, 0)]


def share_good(reads):
    return sum(map(good, reads)) / len(reads)


@pytest.mark.parametrize("silent", [HEADER, FAN], ids=["asked last", "asked first"])
@pytest.mark.parametrize("how", SILENCES)
@in_loop
async def test_on_tcp_a_silent_request_costs_its_own_points_alone(how, silent):
    async with FaultDevice(blocks={silent: SILENCES[how]}) as device:
        plan = plan_for(
            device.port, source(1, 0), source(1, 200), source(1, 5, table=COIL), timeout_s=0.05, scan_period_s=0.05
        )
        async with running(plan) as desk:
            await asyncio.sleep(0.6)  # found out
            up_since = len(desk.changes)
            desk.items.clear()
            await asyncio.sleep(1.2)

    silent_reads = [read for read in desk.of(1) if read.block.address == silent[2]]
    others = [read for read in desk.of(1) if read.block.address != silent[2]]
    assert up_since <= 2
    assert desk.changes == []
    assert share_good(others) == 1.0
    assert len(dp_reads(desk)) >= 18
    assert all(right(read) for read in dp_reads(desk))
    assert len(silent_reads) >= 18
    assert not any(map(good, silent_reads))


@pytest.mark.parametrize("silent", [HEADER, FAN], ids=["asked last", "asked first"])
@in_loop
async def test_on_rtu_framing_a_silent_request_leaves_the_rest_good_most_of_the_time(silent):
    """Patience, timeout and period as 3 s, 1 s and 1 s, thirty times faster."""
    async with FaultDevice("rtu", shared_line=True, blocks={silent: Fault(Kind.HANG)}) as device:
        sources = (source(1, 0), source(1, 200), source(1, 5, table=COIL))
        plan = plan_for(
            device.port, *sources, protocol=RTU, timeout_s=0.033, late_answer_s=0.1, scan_period_s=0.033
        )
        async with running(plan) as desk:
            await desk.until(lambda desk: any(map(good, dp_reads(desk))))
            desk.items.clear()
            await asyncio.sleep(4.0)

    assert share_good(dp_reads(desk)) > 0.7
    assert all(right(read) for read in dp_reads(desk) if good(read))


@in_loop
async def test_a_silent_request_is_asked_ever_more_rarely_and_taken_back_when_it_answers():
    async with FaultDevice(blocks={HEADER: Fault(Kind.HANG)}) as device:
        plan = plan_for(device.port, source(1, 0), source(1, 200), timeout_s=0.03, scan_period_s=0.05)
        async with running(plan) as desk:
            await asyncio.sleep(1.2)
            asked = sum(seen.address == 200 for seen in device.requests)
            device.blocks.clear()
            await desk.fresh(lambda read: read.block.address == 200 and good(read), within_s=3.0)
            desk.items.clear()
            await desk.until(lambda desk: len(desk.scans) >= 8)

    assert 4 <= asked <= 7  # at 0, then after 0.05, 0.1, 0.2, 0.4 s
    assert all(good(read) and right(read) for read in desk.reads)


@in_loop
async def test_many_silent_requests_cost_one_timeout_a_scan_together():
    blocks = {(unit, 3, address): Fault(Kind.HANG) for unit in (1, 2) for address in (40, 80, 120, 160)}
    async with FaultDevice(blocks=blocks) as device:
        sources = [source(unit, address) for unit in (1, 2) for address in (0, 40, 80, 120, 160)]
        plan = plan_for(device.port, *sources, timeout_s=0.04, scan_period_s=0.05)
        async with running(plan) as desk:
            await asyncio.sleep(0.8)
            found_out = len(device.requests)
            await asyncio.sleep(1.0)

    scan, silent_in = 0, Counter()
    for seen in device.requests[found_out:]:
        scan += (seen.unit_id, seen.address) == (1, 0)
        silent_in[scan] += seen.address != 0
    assert scan >= 8
    assert max(silent_in.values()) == 1
    assert share_good([read for read in desk.reads if read.block.address == 0]) == 1.0


@in_loop
async def test_of_a_unit_that_answers_one_request_of_many_that_one_is_found_within_a_few_scans():
    blocks = {(1, 3, address): Fault(Kind.HANG) for address in (0, 40, 80, 120)}
    async with FaultDevice(blocks=blocks) as device:
        sources = [source(1, address) for address in (0, 40, 80, 120, 160)]
        async with running(plan_for(device.port, *sources, timeout_s=0.03, scan_period_s=0.05)) as desk:
            await desk.until(lambda desk: any(map(good, desk.reads)))
            scans = len(desk.scans)

    assert scans <= 6


@in_loop
async def test_a_unit_whose_only_request_hangs_up_does_not_take_the_others_down():
    async with FaultDevice(units={1: Fault(Kind.DROP)}) as device:
        plan = plan_for(device.port, source(1), source(2), source(3), timeout_s=0.05, scan_period_s=0.05)
        async with running(plan) as desk:
            await desk.until(lambda desk: any(map(good, desk.of(2))))
            await asyncio.sleep(0.2)
            desk.items.clear()
            await asyncio.sleep(1.0)

    assert desk.changes == []
    assert share_good(desk.of(2) + desk.of(3)) == 1.0
    assert {reason_of(read) for read in desk.of(1)} == {Reason.NO_CONNECTION}
    assert device.accepted < 12
