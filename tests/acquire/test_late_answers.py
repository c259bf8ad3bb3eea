"""A late answer on an RTU line is never taken for another register's.

Every register of the device tells its own unit and address, and a late answer goes to whoever is connected
when it is ready, as on a real line. So a single value taken for another's would show.
"""

import asyncio
import random

import pytest

from monitor.acquire.settings import Protocol
from monitor.words import Reason
from tests.acquire.desk import good, in_loop, plan_for, reason_of, right, running, source
from tests.peers.fault_device import Fault, FaultDevice, Kind

RTU = Protocol.RTU_OVER_TCP


@pytest.fixture(autouse=True)
def _fifty_times_faster(monkeypatch):
    monkeypatch.setattr("monitor.acquire.step.FORGET_S", 60.0 / 50)
    monkeypatch.setattr("monitor.acquire.unit.MOST_SILENT_S", 60.0 / 50)
    monkeypatch.setattr("monitor.acquire.silence.MOST_SILENT_S", 60.0 / 50)


def wrong(desk):
    return [read for read in desk.reads if good(read) and not right(read)]


@pytest.mark.parametrize("seed", range(2))
@in_loop
async def test_answers_late_at_random_never_yield_a_wrong_value(seed):
    """Timeout 10 ms, patience 60 ms, answers up to 200 ms late: as 0.5 s, 3 s and 10 s, fifty times faster."""
    dice = random.Random(seed)
    sources = [
        source(unit_id, address, width)
        for unit_id in (1, 2, 3)
        for address, width in ((0, 2), (20, 2), (40, 2), (60, 1), (80, 1))
    ]
    async with FaultDevice("rtu", shared_line=True, seed=seed) as device:
        plan = plan_for(
            device.port, *sources, protocol=RTU, timeout_s=0.01, late_answer_s=0.06, scan_period_s=0.01
        )
        async with running(plan) as desk:
            for _ in range(24):
                kind = dice.choice((Kind.LATE_AT_RANDOM, Kind.LATE, Kind.OK, Kind.HANG, Kind.BAD_CRC, Kind.SHORT))
                device.fault = Fault(
                    kind, seconds=dice.choice((0.005, 0.02, 0.07, 0.2)), share=dice.choice((0.1, 0.5, 1))
                )
                await asyncio.sleep(0.05)
                assert not wrong(desk)
            device.fault = Fault()
            await desk.until(lambda desk: not desk.worker.figures().silent_units, within_s=8.0)
            await desk.until(lambda desk: good(desk.reads[-1]))

    assert not wrong(desk)
    assert sum(map(good, desk.reads)) > 20
    assert Reason.NO_ANSWER in {reason_of(read) for read in desk.reads}


@pytest.mark.parametrize("late_s", [0.03, 0.12, 0.16])
@in_loop
async def test_an_answer_later_than_all_patience_is_still_no_others(late_s):
    """The line has one request outstanding when it is asked again; without the proof 20 would get 0's value."""
    async with FaultDevice("rtu", shared_line=True) as device:
        plan = plan_for(
            device.port,
            *(source(1, address) for address in (0, 20, 40)),
            protocol=RTU,
            timeout_s=0.02,
            late_answer_s=0.1,
            scan_period_s=0.02,
        )
        async with running(plan) as desk:
            await desk.until(lambda desk: len(desk.scans) >= 3)
            device.fault = Fault(Kind.LATE, seconds=late_s, share=0.5)
            await asyncio.sleep(0.6)
            assert not wrong(desk)
            device.fault = Fault()
            await desk.until(lambda desk: good(desk.reads[-1]) and not desk.worker.figures().silent_units)

    assert not wrong(desk)


@in_loop
async def test_a_unit_that_timed_out_is_left_alone_and_then_asked_for_a_proof():
    async with FaultDevice("rtu", shared_line=True) as device:
        plan = plan_for(
            device.port,
            source(1, 0, 2),
            source(1, 20, 2),
            protocol=RTU,
            timeout_s=0.03,
            late_answer_s=0.3,
            scan_period_s=0.03,
        )
        async with running(plan) as desk:
            await desk.until(lambda desk: len(desk.scans) >= 2)
            device.fault = Fault(Kind.HANG)
            await desk.fresh(lambda read: not good(read))
            given_up = asyncio.get_running_loop().time()
            device.fault = Fault()
            asked = len(device.requests)
            await desk.fresh(good)

    proof, first, second = device.requests[asked : asked + 3]
    assert proof.at_s - given_up >= 0.29
    # The one that was silent comes last now.
    assert (proof.address, proof.count) == (20, 1)  # one register of two: no owed answer has two bytes of data
    assert [(seen.address, seen.count) for seen in (first, second)] == [(20, 2), (0, 2)]
    assert device.accepted == 2  # closed and opened again in between


@in_loop
async def test_one_lone_register_comes_back_after_a_lost_answer():
    for refuses in (set(), {(1, 1)}):
        async with FaultDevice("rtu", shared_line=True, refuses=refuses) as device:
            plan = plan_for(device.port, protocol=RTU, timeout_s=0.03, late_answer_s=0.05, scan_period_s=0.03)
            async with running(plan) as desk:
                await desk.until(lambda desk: len(desk.scans) >= 2)
                device.fault = Fault(Kind.HANG)
                await desk.fresh(lambda read: not good(read))
                device.fault = Fault()
                await desk.fresh(good, within_s=2.0)

        assert not wrong(desk)


@in_loop
async def test_a_late_answer_does_not_keep_the_other_units_from_theirs():
    """Unit 2 is asked while unit 1's late answer comes in, and in the same bytes."""
    async with FaultDevice("rtu", shared_line=True, units={1: Fault(Kind.LATE, seconds=0.07)}) as device:
        device.units[2] = Fault(Kind.LATE, seconds=0.02)
        plan = plan_for(
            device.port, source(1), source(2), protocol=RTU, timeout_s=0.05, late_answer_s=0.1, scan_period_s=0.05
        )
        async with running(plan) as desk:
            await asyncio.sleep(1.0)

    assert not wrong(desk)
    assert all(good(read) for read in desk.of(2))
    assert len(desk.of(2)) >= 10
    assert not any(good(read) for read in desk.of(1))


@pytest.mark.parametrize("seed", range(1, 2))
@in_loop
async def test_on_tcp_late_answers_at_random_never_yield_a_wrong_value(seed):
    sources = [source(unit_id, address) for unit_id in (1, 2) for address in (0, 20, 40)]
    async with FaultDevice("tcp", Fault(Kind.LATE_AT_RANDOM, seconds=0.06, share=0.5), seed=seed) as device:
        plan = plan_for(device.port, *sources, timeout_s=0.03, scan_period_s=0.01)
        async with running(plan) as desk:
            await asyncio.sleep(1.5)

    assert not wrong(desk)
    assert sum(map(good, desk.reads)) > 20
