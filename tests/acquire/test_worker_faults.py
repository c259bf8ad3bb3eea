"""What the daemon is told of a link on which everything goes wrong, and that it comes back."""

import asyncio
import contextlib

import pytest

from monitor.acquire import worker
from monitor.acquire.settings import Protocol
from monitor.clock import Clock
from monitor.words import LinkChange, Reason, Table
from tests.acquire.desk import good, in_loop, plan_for, reason_of, right, running, source
from tests.peers.fault_device import Fault, FaultDevice, Kind

FRAMINGS = {"tcp": Protocol.TCP, "rtu": Protocol.RTU_OVER_TCP}

TOLD = [
    ("tcp", Kind.HANG, Reason.NO_ANSWER),
    ("tcp", Kind.SHORT, Reason.NO_ANSWER),
    ("tcp", Kind.WRONG_TRANSACTION, Reason.NO_ANSWER),
    ("tcp", Kind.LATE, Reason.NO_ANSWER),
    ("tcp", Kind.DROP, Reason.NO_CONNECTION),
    ("tcp", Kind.RESET, Reason.NO_CONNECTION),
    ("tcp", Kind.FEWER, Reason.MALFORMED_REPLY),
    ("tcp", Kind.MORE, Reason.MALFORMED_REPLY),
    ("tcp", Kind.ZERO, Reason.MALFORMED_REPLY),
    ("tcp", Kind.ODD, Reason.MALFORMED_REPLY),
    ("tcp", Kind.COUNT_LIES, Reason.MALFORMED_REPLY),
    ("tcp", Kind.GARBAGE, Reason.MALFORMED_REPLY),
    ("tcp", Kind.OTHER_UNIT, Reason.MALFORMED_REPLY),
    ("tcp", Kind.OTHER_FUNCTION, Reason.MALFORMED_REPLY),
    ("tcp", Kind.EXCEPTION, Reason.EXCEPTION_CODE),
    ("rtu", Kind.HANG, Reason.NO_ANSWER),
    ("rtu", Kind.SHORT, Reason.MALFORMED_REPLY),
    ("rtu", Kind.LATE, Reason.NO_ANSWER),
    ("rtu", Kind.BAD_CRC, Reason.MALFORMED_REPLY),
    ("rtu", Kind.COUNT_LIES, Reason.MALFORMED_REPLY),
    ("rtu", Kind.GARBAGE, Reason.MALFORMED_REPLY),
    ("rtu", Kind.OTHER_UNIT, Reason.MALFORMED_REPLY),
    ("rtu", Kind.DROP, Reason.NO_CONNECTION),
    ("rtu", Kind.RESET, Reason.NO_CONNECTION),
    ("rtu", Kind.FEWER, Reason.MALFORMED_REPLY),
    ("rtu", Kind.MORE, Reason.MALFORMED_REPLY),
    ("rtu", Kind.ZERO, Reason.MALFORMED_REPLY),
    ("rtu", Kind.ODD, Reason.MALFORMED_REPLY),
    ("rtu", Kind.OTHER_FUNCTION, Reason.MALFORMED_REPLY),
    ("rtu", Kind.EXCEPTION, Reason.EXCEPTION_CODE),
]


@pytest.mark.parametrize(("framing", "kind", "reason"), TOLD)
@in_loop
async def test_a_fault_makes_every_point_bad_at_once_and_its_end_good_again(framing, kind, reason):
    sources = [source(address=0), source(address=1), source(address=40, width=2)]
    async with FaultDevice(framing) as device:
        plan = plan_for(
            device.port,
            *sources,
            protocol=FRAMINGS[framing],
            timeout_s=0.03,
            late_answer_s=0.04,
            scan_period_s=0.03,
        )
        async with running(plan) as desk:
            await desk.until(lambda desk: sum(map(good, desk.reads)) >= 4)
            assert desk.changes == [True]

            device.fault = Fault(kind, seconds=0.05, code=4)
            await desk.fresh(lambda read: reason_of(read) is reason)
            bad_from = next(i for i, read in enumerate(desk.reads) if not good(read))
            assert all(not good(read) for read in desk.reads[bad_from:])
            await desk.until(lambda desk: {r.block.address for r in desk.reads if not good(r)} == {0, 40})

            device.fault = Fault()
            await desk.fresh(good)
            await desk.fresh(good)
            assert all(right(read) for read in desk.reads if good(read))
            assert desk.worker.figures().failures[reason] >= 1
            assert desk.worker.figures().connected


@in_loop
async def test_a_device_that_refuses_is_told_once_and_its_points_are_bad_each_scan():
    async with FaultDevice() as device:
        await device.refuse()
        plan = plan_for(device.port, source(1), source(2), scan_period_s=0.1)
        async with running(plan) as desk:
            await desk.until(lambda desk: len(desk.scans) >= 8)
            assert desk.changes == [False]
            assert {scan.unit_id for scan in desk.scans} == {1, 2}
            assert {reason_of(read) for read in desk.reads} == {Reason.NO_CONNECTION}
            assert desk.reads[0].failure.detail == f"cannot open 127.0.0.1:{device.port}: connection refused"
            assert not desk.worker.figures().connected

            await device.listen()
            await desk.until(lambda desk: sum(map(good, desk.reads)) >= 2)
            assert desk.changes == [False, True]


@in_loop
async def test_a_lost_connection_is_told_while_the_worker_rests():
    async with FaultDevice() as device:
        plan = plan_for(device.port, source(1), source(2), scan_period_s=3600.0)
        async with running(plan) as desk:
            await desk.until(lambda desk: len(desk.scans) == 2)
            await device.refuse()
            await desk.until(lambda desk: desk.changes == [True, False], within_s=0.5)
            assert [reason_of(read) for read in desk.reads] == [None, None] + 2 * [Reason.NO_CONNECTION]

            await device.listen()
            await desk.until(lambda desk: sum(map(good, desk.reads)) == 4, within_s=2.0)
            assert desk.changes == [True, False, True]


@in_loop
async def test_a_gateway_that_accepts_and_closes_is_not_connected_and_not_hammered():
    async with FaultDevice(accept_and_close=True) as device, running(plan_for(device.port)) as desk:
        await asyncio.sleep(1.5)
        assert desk.changes == [False]
        assert {reason_of(read) for read in desk.reads} == {Reason.NO_CONNECTION}
        assert 2 <= device.accepted <= 5  # at 0, 0.25, 0.75 s, sooner by the jitter
        assert len(desk.scans) >= 10

        device.accept_and_close = False
        await desk.until(lambda desk: good(desk.reads[-1]))
        assert desk.changes == [False, True]


@in_loop
async def test_a_link_that_accepts_and_never_answers_is_connected_with_silent_units():
    async with (
        FaultDevice(fault=Fault(Kind.HANG)) as device,
        running(plan_for(device.port, source(1), source(2))) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) >= 6)
        figures = desk.worker.figures()

    assert desk.changes == [True]
    assert figures.connected
    assert figures.silent_units == (1, 2)
    assert {reason_of(read) for read in desk.reads} == {Reason.NO_ANSWER}


@in_loop
async def test_an_exception_costs_its_own_block_alone():
    sources = [source(address=0), source(address=40), source(address=80)]
    async with FaultDevice(refuses={(1, 40)}) as device, running(plan_for(device.port, *sources)) as desk:
        await desk.until(lambda desk: len(desk.scans) >= 3)

    for scan in desk.scans:
        assert [reason_of(read) for read in scan.reads] == [None, Reason.EXCEPTION_CODE, None]
    assert desk.reads[1].failure.detail == "exception 02, illegal data address"
    assert desk.worker.figures().silent_units == ()


@in_loop
async def test_each_unit_is_delivered_as_soon_as_it_was_read():
    units = {2: Fault(Kind.LATE, seconds=0.3)}
    async with (
        FaultDevice(units=units) as device,
        running(plan_for(device.port, source(1), source(2), timeout_s=1.0)) as desk,
    ):
        await desk.until(lambda desk: len(desk.scans) == 1, within_s=0.2)
        await desk.until(lambda desk: len(desk.scans) == 2)

    first, second = desk.scans[:2]
    assert (first.unit_id, second.unit_id) == (1, 2)
    assert second.reads[0].at.mono_s - first.reads[0].at.mono_s >= 0.29


@in_loop
async def test_bits_and_registers_of_all_tables_come_in_one_scan():
    sources = [source(table=table, address=5) for table in Table]
    async with FaultDevice() as device, running(plan_for(device.port, *sources)) as desk:
        await desk.until(lambda desk: len(desk.scans) >= 1)

    assert all(good(read) for read in desk.scans[0].reads)
    assert {read.block.table for read in desk.scans[0].reads} == set(Table)


@in_loop
async def test_a_link_says_one_line_when_it_comes_and_when_it_goes(caplog):
    caplog.set_level("INFO")
    async with FaultDevice() as device, running(plan_for(device.port, source(1), source(2))) as desk:
        await desk.until(lambda desk: len(desk.scans) >= 4)
        device.fault = Fault(Kind.HANG)
        await desk.fresh(lambda read: not good(read))
        await device.refuse()
        await desk.until(lambda desk: False in desk.changes)
        await asyncio.sleep(0.6)

    lines = [record.getMessage() for record in caplog.records]
    assert len(lines) == 2
    assert lines[0] == f"link up link=north detail=connected to 127.0.0.1:{device.port}"
    assert lines[1].startswith("link down link=north detail=")


@in_loop
async def test_a_link_is_told_before_the_points_it_explains():
    async with FaultDevice() as device, running(plan_for(device.port, scan_period_s=3600.0)) as desk:
        await desk.until(lambda desk: len(desk.scans) == 1)
        await device.refuse()
        await desk.until(lambda desk: len(desk.scans) == 2)

    kinds = [type(item) is LinkChange for item in desk.items]
    assert kinds == [True, False, True, False]


@in_loop
async def test_a_fault_of_ours_while_connecting_ends_the_worker_instead_of_the_link(monkeypatch):
    def fail(*_args):
        raise ZeroDivisionError("a fault of ours")

    monkeypatch.setattr(worker, "Connection", fail)
    one = worker.LinkWorker(plan_for(1, scan_period_s=0.02), clock=Clock(), deliver=lambda _: None)

    with pytest.raises(ZeroDivisionError):
        await asyncio.wait_for(one.run(), 2.0)


@in_loop
async def test_a_peer_that_answers_once_and_closes_is_asked_ever_more_rarely():
    async with FaultDevice() as device, running(plan_for(device.port, scan_period_s=1.0)) as desk:
        for _ in range(30):
            with contextlib.suppress(TimeoutError):
                await desk.fresh(good, within_s=0.1)
                device.hang_up()
        assert 3 <= device.accepted <= 5  # at 0, then after 0.25, 0.5, 1, 2 s, sooner by the jitter
