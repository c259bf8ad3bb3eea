"""When a link is scanned, what its worker says of itself, and how it takes a new plan."""

import asyncio
import itertools

import pytest

from monitor.acquire.tally import BUCKETS_S
from monitor.clock import Clock
from monitor.words import Reason
from tests.acquire.desk import good, in_loop, plan_for, reason_of, right, running, source
from tests.peers.fault_device import Fault, FaultDevice, Kind


def gaps_of(desk):
    at = [scan.reads[0].at.mono_s for scan in desk.scans]
    return [later - earlier for earlier, later in itertools.pairwise(at)]


@in_loop
async def test_scans_begin_a_period_apart_whatever_they_take():
    async with (
        FaultDevice(fault=Fault(Kind.LATE, seconds=0.06)) as device,
        running(plan_for(device.port, scan_period_s=0.1)) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) == 7)

    assert sum(gaps_of(desk)) == pytest.approx(0.6, abs=0.05)


@in_loop
async def test_a_scan_that_overran_is_followed_by_one_not_by_many():
    async with (
        FaultDevice(fault=Fault(Kind.LATE, seconds=0.25)) as device,
        running(plan_for(device.port, scan_period_s=0.1, timeout_s=1.0)) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) == 3)
        device.fault = Fault()
        await desk.until(lambda desk: len(desk.scans) == 9)

    assert min(gaps_of(desk)[:2]) >= 0.24
    assert sum(gap < 0.05 for gap in gaps_of(desk)[2:]) <= 1
    assert sum(gaps_of(desk)[3:]) == pytest.approx(0.5, abs=0.1)


@in_loop
async def test_a_saturated_link_lets_everybody_else_run():
    async with FaultDevice() as device, running(plan_for(device.port, scan_period_s=0.0001)) as desk:
        turns = 0
        await desk.until(lambda desk: len(desk.scans) >= 1)
        for _ in range(50):
            await asyncio.sleep(0)
            turns += 1
        await desk.until(lambda desk: len(desk.scans) >= 100)

    assert turns == 50


@in_loop
async def test_the_pace_follows_the_scan_clock():
    async with FaultDevice() as device:
        clock = Clock(speed=20.0)
        async with running(plan_for(device.port, scan_period_s=1.0), clock) as desk:
            await desk.until(lambda desk: len(desk.scans) == 11, within_s=2.0)

    assert sum(gaps_of(desk)) == pytest.approx(10.0, abs=1.0)


@in_loop
async def test_the_moment_of_a_read_is_that_of_its_reply():
    async with FaultDevice(fault=Fault(Kind.LATE, seconds=0.3)) as device:
        clock = Clock(start_s=1000.0)
        async with running(plan_for(device.port, timeout_s=1.0), clock) as desk:
            await desk.until(lambda desk: len(desk.scans) == 1)
            now = clock.now()

    at = desk.reads[0].at
    assert 1000.3 <= at.mono_s <= now.mono_s < at.mono_s + 0.1
    assert now.utc_s - at.utc_s < 0.1


@in_loop
async def test_the_first_reading_is_there_well_within_a_second():
    async with FaultDevice() as device, running(plan_for(device.port, scan_period_s=3600.0)) as desk:
        await desk.until(lambda desk: len(desk.scans) == 1, within_s=0.3)


@in_loop
async def test_figures_count_what_happened():
    async with (
        FaultDevice(units={2: Fault(Kind.HANG)}) as device,
        running(plan_for(device.port, source(1), source(2))) as desk,
    ):
        await desk.until(lambda desk: len(desk.of(1)) >= 5)
        figures = desk.worker.figures()

    asked = [seen.unit_id for seen in device.requests]
    assert figures.link == "north"
    assert figures.connected
    assert len(asked) - 1 <= figures.requests <= len(asked)
    assert figures.failures == {Reason.NO_ANSWER: asked.count(2)}
    assert figures.silent_units == (2,)
    assert figures.last_error == "no answer within 0.1 s"
    assert tuple(figures.round_trip_buckets) == BUCKETS_S
    counts = list(figures.round_trip_buckets.values())
    assert counts == sorted(counts)
    assert counts[-1] == figures.round_trip_count == figures.requests - figures.failures[Reason.NO_ANSWER]
    assert 0 < figures.round_trip_sum_s < 5


@pytest.mark.parametrize("kind", [Kind.OK, Kind.HANG])
@in_loop
async def test_a_worker_that_waits_for_devices_is_not_stuck(kind):
    sources = [source(unit_id, address) for unit_id in (1, 2, 3) for address in (0, 40)]
    async with FaultDevice(fault=Fault(kind)) as device:
        clock = Clock()
        async with running(plan_for(device.port, *sources, scan_period_s=0.05), clock) as desk:
            oldest = 0.0
            for _ in range(20):
                await asyncio.sleep(0.02)
                figures = desk.worker.figures()
                oldest = max(oldest, clock.now().mono_s - figures.turned_at.mono_s)

    assert oldest < figures.turn_limit_s
    assert figures.turn_limit_s < 20


@in_loop
async def test_a_resting_worker_comes_round_long_before_its_next_scan(monkeypatch):
    monkeypatch.setattr("monitor.acquire.worker.REST_SLICE_S", 0.05)
    async with FaultDevice() as device:
        clock = Clock()
        async with running(plan_for(device.port, scan_period_s=3600.0), clock) as desk:
            await asyncio.sleep(0.4)
            assert clock.now().mono_s - desk.worker.figures().turned_at.mono_s < 0.15

    assert len(desk.scans) == 1


@in_loop
async def test_a_new_plan_is_read_over_the_same_connection():
    async with (
        FaultDevice(units={2: Fault(Kind.HANG)}) as device,
        running(plan_for(device.port, source(1, 0), source(2))) as desk,
    ):
        await desk.until(lambda desk: len(desk.of(2)) >= 3)
        desk.worker.replan(plan_for(device.port, source(1, 0), source(1, 40), source(2), source(3)))
        await desk.until(lambda desk: len(desk.of(3)) >= 2)
        figures = desk.worker.figures()

    assert device.accepted == 1
    assert [read.block.address for read in desk.scans[-2].reads or desk.scans[-1].reads]
    assert {read.block.address for read in desk.of(1)} == {0, 40}
    assert all(right(read) for read in desk.of(1) + desk.of(3))
    assert desk.changes == [True]
    assert figures.silent_units == (2,)


@in_loop
async def test_an_equal_plan_changes_nothing():
    async with FaultDevice() as device, running(plan_for(device.port, scan_period_s=3600.0)) as desk:
        await desk.until(lambda desk: len(desk.scans) == 1)
        desk.worker.replan(plan_for(device.port, scan_period_s=3600.0))
        await asyncio.sleep(0.1)

    assert len(desk.scans) == 1


@in_loop
async def test_a_plan_that_leads_elsewhere_goes_there():
    async with (
        FaultDevice() as here,
        FaultDevice() as there,
        running(plan_for(here.port, scan_period_s=3600.0)) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) == 1)
        desk.worker.replan(plan_for(there.port, source(5), scan_period_s=0.05))
        await desk.until(lambda desk: len(desk.of(5)) >= 3)
        await asyncio.sleep(0.05)
        assert (here.connections, there.connections) == (0, 1)

    assert all(good(read) for read in desk.reads)


@in_loop
async def test_a_shorter_period_does_not_wait_for_the_long_one():
    async with FaultDevice() as device, running(plan_for(device.port, scan_period_s=3600.0)) as desk:
        await desk.until(lambda desk: len(desk.scans) == 1)
        desk.worker.replan(plan_for(device.port, scan_period_s=0.05))
        await desk.until(lambda desk: len(desk.scans) >= 4, within_s=1.0)


@in_loop
async def test_a_worker_that_cannot_connect_ends_when_told():
    async with FaultDevice() as device:
        await device.refuse()
        await asyncio.sleep(0.05)
        before = len(asyncio.all_tasks())
        async with running(plan_for(device.port)) as desk:
            await desk.until(lambda desk: len(desk.scans) >= 2)
        after = len(asyncio.all_tasks())

    assert {reason_of(read) for read in desk.reads} == {Reason.NO_CONNECTION}
    assert after == before
