"""A unit that does not answer: what it costs the others, how often it is asked, and how it comes back."""

import asyncio
import itertools

import pytest

from monitor.acquire.settings import Protocol
from monitor.words import Reason
from tests.acquire.desk import good, in_loop, plan_for, reason_of, right, running, source
from tests.peers.fault_device import Fault, FaultDevice, Kind

HANG = Fault(Kind.HANG)
SILENT_GATEWAYS = [
    ("tcp", Protocol.TCP, HANG),
    ("rtu", Protocol.RTU_OVER_TCP, HANG),
    ("tcp", Protocol.TCP, Fault(Kind.EXCEPTION, code=0x0B)),
]


@pytest.mark.parametrize(("framing", "protocol", "fault"), SILENT_GATEWAYS)
@in_loop
async def test_a_silent_unit_is_asked_ever_more_rarely_and_reported_at_every_scan(framing, protocol, fault):
    async with FaultDevice(framing, units={2: fault}) as device:
        plan = plan_for(
            device.port,
            source(1),
            source(2),
            protocol=protocol,
            timeout_s=0.05,
            late_answer_s=0.05,
            scan_period_s=0.05,
        )
        async with running(plan) as desk:
            await asyncio.sleep(1.0)
            asked = [seen.at_s for seen in device.requests if seen.unit_id == 2]
            reported = len(desk.of(2))

    gaps = [later - earlier for earlier, later in itertools.pairwise(asked)]
    assert all(good(read) and right(read) for read in desk.of(1))
    assert len(desk.of(1)) >= 10
    assert {reason_of(read) for read in desk.of(2)} == {Reason.NO_ANSWER}
    assert reported >= 10
    assert 4 <= len(asked) <= 7  # at 0, then after 0.05, 0.1, 0.2, 0.4 s
    assert gaps[-1] > 1.8 * gaps[0]


@in_loop
async def test_the_rest_of_a_silent_unit_is_not_asked_but_fails_with_it():
    sources = [source(1, 0), source(1, 40), source(1, 80)]
    async with FaultDevice() as device, running(plan_for(device.port, *sources)) as desk:
        await desk.until(lambda desk: len(desk.scans) == 1)
        device.fault = HANG
        await desk.until(lambda desk: not good(desk.reads[-1]))
        asked = len(device.requests)
        answered = [good(read) for read in desk.scans[-1].reads]

    assert answered == [False, False, False]
    assert len({read.failure for read in desk.scans[-1].reads}) == 1
    assert asked == 3 * (len(desk.scans) - 1) + 1


@in_loop
async def test_many_silent_units_cost_the_others_one_timeout_a_scan():
    units = dict.fromkeys(range(2, 12), HANG)
    async with FaultDevice(units=units) as device:
        plan = plan_for(device.port, *(source(i) for i in range(1, 12)), timeout_s=0.06, scan_period_s=0.1)
        async with running(plan) as desk:
            await desk.until(lambda desk: len(desk.of(1)) >= 2)
            await asyncio.sleep(1.0)

    asked = [seen.unit_id for seen in device.requests]
    second_scan = asked.index(1, asked.index(1) + 1)
    silent_between = [
        len(part) for part in "".join("1" if i == 1 else "x" for i in asked[second_scan:]).split("1")
    ]
    assert max(silent_between) == 1
    assert len(silent_between) >= 5


@in_loop
async def test_a_unit_that_answers_is_back_at_full_rate_at_once():
    async with FaultDevice(units={2: HANG}) as device:
        plan = plan_for(device.port, source(1), source(2), timeout_s=0.03, scan_period_s=0.05)
        async with running(plan) as desk:
            await desk.until(lambda desk: len(desk.of(2)) >= 6)
            device.units.clear()
            await desk.until(lambda desk: good(desk.of(2)[-1]), within_s=2.0)
            assert desk.worker.figures().silent_units == ()
            desk.items.clear()
            await desk.until(lambda desk: len(desk.scans) >= 10)

    assert all(good(read) for read in desk.reads)


@in_loop
async def test_when_a_gateway_comes_back_all_its_units_do_in_one_scan():
    async with FaultDevice(fault=HANG) as device:
        plan = plan_for(device.port, *(source(i) for i in range(1, 9)), timeout_s=0.02, scan_period_s=0.1)
        async with running(plan) as desk:
            await desk.until(lambda desk: len(desk.worker.figures().silent_units) == 8)
            for unit in desk.worker._units:
                unit.due_s = 0.0
            device.fault = Fault()
            await desk.fresh(good)
            await asyncio.sleep(0.05)

    assert desk.worker.figures().silent_units == ()


@in_loop
async def test_a_unit_that_is_silent_at_one_block_only_keeps_its_other_points():
    async with FaultDevice() as device:
        plan = plan_for(device.port, source(1, 0), source(1, 40), timeout_s=0.03, scan_period_s=0.05)
        async with running(plan) as desk:
            await desk.until(lambda desk: len(desk.scans) >= 2)
            device.fault = Fault(Kind.HANG, share=0.5)
            await asyncio.sleep(0.6)
            device.fault = Fault()
            await desk.fresh(good)
            await desk.until(lambda desk: all(good(read) for read in desk.scans[-1].reads))

    assert desk.changes in ([], [True])


@in_loop
async def test_a_unit_says_on_the_detailed_log_when_it_falls_silent_and_when_it_answers(caplog):
    caplog.set_level("DEBUG", logger="monitor")
    async with FaultDevice(units={2: HANG}) as device:
        plan = plan_for(device.port, source(1), source(2), timeout_s=0.05, scan_period_s=0.05)
        async with running(plan) as desk:
            await asyncio.sleep(0.3)
            del device.units[2]
            await desk.until(lambda desk: any(good(read) for read in desk.of(2)))

    lines = [record.getMessage() for record in caplog.records if record.getMessage().startswith("unit ")]
    assert lines == [
        "unit silent link=north unit_id=2 detail=no answer within 0.05 s",
        "unit answers link=north unit_id=2",
    ]
