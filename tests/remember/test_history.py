"""History: what goes in comes out, within its bounds in age and size."""

import asyncio
import random

import pytest

from monitor.remember import history_file, retention
from monitor.remember import store as store_module
from monitor.words import PointId, Quality, Reason, Role
from tests.remember.making import DP_101, a_reading, an_event, opened, read, told, until

NOW_S = 1_700_000_000
POINTS = [PointId(f"DC-{101 + n}", Role.DP) for n in range(4)]


def test_a_points_rows_come_back_in_order_and_alone(tmp_path, monkeypatch):
    monkeypatch.setattr(store_module, "PAGE_ROWS", 7)

    async def story() -> None:
        async with opened(tmp_path, utc_s=float(NOW_S), history_step_s=10.0) as store:
            for at_s in range(NOW_S - 300, NOW_S):
                for n, point in enumerate(POINTS):
                    if n != 2 or at_s % 100 < 50:
                        store.record(point, a_reading(float(at_s), float(n)))
            await store.flush()
            for n, point in enumerate(POINTS):
                rows = await store.history(point, NOW_S - 300, NOW_S)
                starts = [start for start in range(NOW_S - 300, NOW_S, 10) if n != 2 or start % 100 < 50]
                assert [row.start_utc_s for row in rows] == starts
                assert {(row.mean, row.good, row.bad, row.worst) for row in rows} == {
                    (float(n), 10, 0, Reason.NONE)
                }
            some = await store.history(DP_101, NOW_S - 200, NOW_S - 100)
            assert [row.start_utc_s for row in some] == list(range(NOW_S - 200, NOW_S - 100, 10))
            assert await store.history(PointId("DC-999", Role.DP), 0, NOW_S) == []
            assert store.figures().history_rows == 3 * 30 + 15

    asyncio.run(story())


def test_a_step_that_a_restart_cut_in_two_is_one_row(tmp_path):
    start = NOW_S - NOW_S % 60

    async def story() -> None:
        for values in ([1.0, 5.0], [], [3.0, 3.0, 0.5]):
            async with opened(tmp_path, utc_s=float(NOW_S), history_step_s=60.0) as store:
                for n, value in enumerate(values):
                    store.record(DP_101, a_reading(start + n, value))
                store.record(DP_101, a_reading(start + 30, None, Quality.BAD))
        async with opened(tmp_path, utc_s=float(NOW_S)) as store:
            (row,) = await store.history(DP_101, 0, NOW_S)
            assert (row.lowest, row.highest, row.last, row.mean) == (0.5, 5.0, 0.5, pytest.approx(2.5))
            assert (row.good, row.bad, row.worst) == (5, 3, Reason.STALE)
            assert store.figures().history_rows == 1

    asyncio.run(story())


def test_finished_steps_are_written_at_the_flush_time_and_not_before(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, utc_s=float(NOW_S), history_step_s=1.0, flush_s=0.3) as store:
            for n in range(5):
                store.record(DP_101, a_reading(NOW_S + n))
            await asyncio.sleep(0.05)
            assert read(tmp_path / "history.db", "SELECT count(*) FROM history") == [(0,)]
            await until(lambda: store.figures().history_rows == 4, 2.0)

    asyncio.run(story())


def test_rows_beyond_their_age_leave_one_batch_a_flush(tmp_path, monkeypatch):
    monkeypatch.setattr(retention, "BATCH_ROWS", 100)

    async def story() -> None:
        async with opened(tmp_path, utc_s=float(NOW_S), history_step_s=1.0, keep_history_s=1e6) as store:
            for at_s in range(NOW_S - 1000, NOW_S):
                store.record(DP_101, a_reading(at_s))
        async with opened(tmp_path, utc_s=float(NOW_S), history_step_s=1.0, keep_history_s=500.0) as store:
            for left in (900, 800, 700, 600, 500, 500):
                await store.flush()
                assert store.figures().history_rows == left
            rows = await store.history(DP_101, 0, NOW_S)
            assert rows[0].start_utc_s == NOW_S - 500

    asyncio.run(story())


def test_a_board_that_boots_in_1970_loses_no_history(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, utc_s=float(NOW_S), history_step_s=1.0) as store:
            for at_s in range(NOW_S - 100, NOW_S):
                store.record(DP_101, a_reading(at_s))
        async with opened(tmp_path, utc_s=0.0, history_step_s=1.0) as store:
            store.record(DP_101, a_reading(5.0))
            await store.flush()
            assert store.figures().history_rows == 101

    asyncio.run(story())


def test_the_file_never_grows_beyond_its_bound(tmp_path, monkeypatch):
    monkeypatch.setattr(history_file, "BATCH_ROWS", 500)
    chance = random.Random(1)
    largest = 0

    async def story() -> None:
        nonlocal largest
        at_s = NOW_S
        async with opened(
            tmp_path, utc_s=float(NOW_S), history_step_s=1.0, max_history_mb=1, keep_history_s=1e9
        ) as store:
            for _ in range(20):
                for _ in range(1_000):
                    at_s += 1
                    for point in POINTS:
                        store.record(point, a_reading(at_s, chance.uniform(0.0, 8.0)))
                await store.flush()
                largest = max(largest, (tmp_path / "history.db").stat().st_size)
            rows = await store.history(DP_101, 0, 2 * NOW_S)
            assert rows[-1].start_utc_s == at_s
            assert store.figures().history_rows < 20_000
        tally = read(tmp_path / "history.db", "SELECT history_rows, (SELECT count(*) FROM history) FROM totals")[0]
        assert tally[0] == tally[1]

    asyncio.run(story())
    assert 900_000 < largest < 2_200_000


def test_a_smaller_bound_gives_the_room_back(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, utc_s=float(NOW_S), history_step_s=1.0, max_history_mb=50) as store:
            for at_s in range(NOW_S - 12_000, NOW_S):
                for point in POINTS:
                    store.record(point, a_reading(at_s, at_s / 7))
                if at_s % 3_000 == 0:
                    await store.flush()
            await store.flush()
        before = (tmp_path / "history.db").stat().st_size
        async with opened(tmp_path, utc_s=float(NOW_S), max_history_mb=1) as store:
            for _ in range(6):
                await store.flush()
        after = (tmp_path / "history.db").stat().st_size
        assert before > 2_500_000
        assert after < 2_100_000

    asyncio.run(story())


def test_an_event_does_not_wait_for_a_large_batch_of_history(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, utc_s=float(NOW_S), history_step_s=1.0, flush_s=0.2) as store:
            for at_s in range(10_000):
                for point in POINTS:
                    store.record(point, a_reading(NOW_S + at_s, at_s / 7))
            await until(lambda: store._writer.busy_since_s is not None)
            store.append([an_event()], {}, 1.0)
            await told(store, 1)
            assert store._thinner.finished, "the event came in between"

    asyncio.run(story())
