"""History reading: every step in the order of time, in pages, while the store writes; nothing is left behind."""

import asyncio
import math

import pytest

from monitor.errors import StoreError
from monitor.remember import history_reading
from monitor.remember.history_reading import HistoryReader
from monitor.words import PointId, Quality, Reason, Role
from tests.remember.making import DP_101, a_reading, opened

T0 = 1_772_352_000
FAN = PointId("DC-101", Role.FAN_RUNNING)


def recorded(folder, steps=30):
    """A reading each 5 s of two points, in steps of 10 s."""

    async def story() -> None:
        async with opened(folder, history_step_s=10.0, keep_history_s=1e11) as store:
            for number in range(2 * steps):
                store.record(DP_101, a_reading(T0 + 5 * number, 4 + number / 100))
                store.record(FAN, a_reading(T0 + 5 * number, 1.0))
            await store.flush()

    asyncio.run(story())


def steps_of(folder, *asked):
    with HistoryReader(folder) as reader:
        return [step for page in reader.pages(*asked) for step in page]


@pytest.mark.parametrize("page_rows", [1, 2, 7, 59, 60, 61])
def test_every_step_comes_once_and_in_order_whatever_the_size_of_a_page(tmp_path, monkeypatch, page_rows):
    recorded(tmp_path)
    monkeypatch.setattr(history_reading, "PAGE_ROWS", page_rows)

    steps = steps_of(tmp_path)

    assert [step[0] for step in steps if step[1] == DP_101] == [T0 + 10 * number for number in range(30)]
    assert [step[0] for step in steps] == sorted(step[0] for step in steps)
    assert len(set(steps)) == 60


def test_a_step_tells_its_last_reading(tmp_path):
    recorded(tmp_path, 2)

    assert [step for step in steps_of(tmp_path) if step[1] == DP_101] == [
        (T0, DP_101, 4.01, Reason.NONE),
        (T0 + 10, DP_101, 4.03, Reason.NONE),
    ]


def test_a_step_without_a_good_reading_has_no_value_but_a_reason(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, history_step_s=10.0, keep_history_s=1e11) as store:
            store.record(DP_101, a_reading(T0, None, Quality.BAD))
            await store.flush()

    asyncio.run(story())
    assert steps_of(tmp_path) == [(T0, DP_101, None, Reason.STALE)]


def test_since_is_taken_and_until_is_not(tmp_path):
    recorded(tmp_path)

    assert {step[0] for step in steps_of(tmp_path, T0 + 50, T0 + 70)} == {T0 + 50, T0 + 60}
    with HistoryReader(tmp_path) as reader:
        assert reader.span() == (T0, T0 + 290)
        assert reader.span(T0 + 50, T0 + 70) == (T0 + 50, T0 + 60)
        assert reader.span(T0 + 1000, math.inf) is None
        assert set(reader.points().values()) == {DP_101, FAN}


def test_what_is_written_meanwhile_is_seen_and_hurts_nobody(tmp_path, monkeypatch):
    monkeypatch.setattr(history_reading, "PAGE_ROWS", 2)

    async def story() -> None:
        async with opened(tmp_path, history_step_s=10.0, keep_history_s=1e11) as store:
            for number in range(5):
                store.record(DP_101, a_reading(T0 + 10 * number))
            await store.flush()
            with HistoryReader(tmp_path) as reader:
                pages = reader.pages()
                seen = list(next(pages))
                for number in range(5, 9):
                    store.record(DP_101, a_reading(T0 + 10 * number))
                await store.flush()
                seen += [step for page in pages for step in page]
            assert [step[0] for step in seen] == [T0 + 10 * number for number in range(9)]
            assert store.figures().healthy

    asyncio.run(story())


def test_looking_at_a_store_at_rest_leaves_no_file_and_changes_none(tmp_path):
    recorded(tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    steps_of(tmp_path)

    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_history_that_is_not_there_or_broken_is_a_sentence(tmp_path):
    with pytest.raises(StoreError, match=r"no daemon has run with this site file yet"):
        HistoryReader(tmp_path)
    (tmp_path / "history.db").write_bytes(b"SQLite format 3\x00" + bytes(2000))
    with pytest.raises(StoreError, match=r"history\.db"):
        steps_of(tmp_path)
