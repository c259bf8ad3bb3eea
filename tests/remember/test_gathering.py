"""Gathering: minutes and hours say what their readings said, whatever the step, the clock and the restarts."""

import asyncio
import math
import sqlite3
from collections import defaultdict
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.remember import tier_reading
from monitor.remember.history_file import HistoryFile
from monitor.remember.history_reading import HistoryReader
from monitor.remember.settings import StoreSettings
from monitor.remember.thinning import Thinner
from monitor.remember.tier import Tier
from monitor.remember.tiers import Reach, Span
from monitor.words import HourRow, Instant, PointId, Quality, Reading, Reason, Role
from tests.remember.making import DP_101, a_reading, opened

HOUR = 1_772_352_000
FLOW = PointId("DC-101", Role.AIR_FLOW)


def written(folder: Path, lives: list[list[tuple[PointId, Reading]]], step_s: float) -> HistoryFile:
    """A history file that so many daemons have written, one after another, without the threads of a store."""
    for life in lives:
        file = HistoryFile(folder / "history.db", StoreSettings(folder=folder), lambda: HOUR)
        file.open()
        thinner = Thinner(step_s)
        for point, reading in life:
            thinner.record(point, reading)
        thinner.finish_all()
        while thinner.finished:
            file.write(thinner.finished)
        file.close()
    return file


def near(found: float | None, wanted: float | None, slack: float) -> bool:
    if found is None or wanted is None:
        return found is wanted
    return abs(found - wanted) <= slack


def rows(folder: Path, tier: Tier, point: PointId = DP_101):
    with HistoryReader(folder) as reader:
        return [row for _, row in reader.rows_of(tier, [point])]


@st.composite
def a_life(draw) -> list[Reading]:
    """Readings in two hours; the clock may go anywhere."""
    quality = st.sampled_from([Quality.GOOD] * 6 + [Quality.UNCERTAIN, Quality.BAD])
    at_s = st.integers(0, 72_000).map(lambda tenth: HOUR + tenth / 10)
    life = []
    for moment, kind in draw(st.lists(st.tuples(at_s, quality), max_size=40)):
        value = None if kind is Quality.BAD else draw(st.integers(-9_000_000, 9_000_000)) / 1e6
        reason = Reason.NONE if kind is Quality.GOOD else Reason.OUT_OF_RANGE
        life.append(Reading(quality=kind, reason=reason, at=Instant(0, moment), value=value))
    return life


def expected_hours(readings: list[Reading]) -> dict[int, HourRow]:
    """The oracle: each hour from its readings, the slow way."""
    of_hour = defaultdict(list)
    for reading in readings:
        of_hour[int(reading.at.utc_s // 3600 * 3600)].append(reading)
    return {start: _hour(start, found) for start, found in of_hour.items()}


def _hour(start, found):
    good = [one for one in found if one.quality is Quality.GOOD]
    values = [one.value for one in good]
    quarters = [0, 0, 0, 0]
    for one in good:
        quarters[int((one.at.utc_s - start) // 900)] += 1
    usable = [one.value for one in found if one.quality is not Quality.BAD]
    worst = max((one.quality for one in found), key=list(Quality).index)
    return HourRow(
        start_utc_s=start,
        last=usable[-1] if usable else None,
        lowest=min(values, default=None),
        highest=max(values, default=None),
        mean=math.fsum(values) / len(values) if values else None,
        good=len(good),
        uncertain=sum(one.quality is Quality.UNCERTAIN for one in found),
        bad=sum(one.quality is Quality.BAD for one in found),
        worst=Reason.NONE if worst is Quality.GOOD else [one.reason for one in found if one.quality is worst][-1],
        quarters=tuple(quarters),
        first_good_utc_s=min((one.at.utc_s for one in good), default=None),
        last_good_utc_s=max((one.at.utc_s for one in good), default=None),
    )


@settings(deadline=None, max_examples=60)
@given(st.lists(a_life(), min_size=1, max_size=3), st.sampled_from([1.0, 7.0, 10.0, 100.0, 3600.0]))
def test_every_hour_says_what_its_readings_said(tmp_path_factory, lives, step_s):
    folder = tmp_path_factory.mktemp("hours")
    written(folder, [[(DP_101, reading) for reading in life] for life in lives], step_s)

    hours = rows(folder, Tier.HOURS)

    expected = expected_hours([reading for life in lives for reading in life])
    assert [hour.start_utc_s for hour in hours] == sorted(expected)
    for hour in hours:
        wanted = expected[hour.start_utc_s]
        for name in ("lowest", "highest", "last", "good", "uncertain", "bad", "worst", "quarters"):
            assert getattr(hour, name) == getattr(wanted, name), name
        for name, slack in (("mean", 1e-9), ("first_good_utc_s", 6e-4), ("last_good_utc_s", 6e-4)):
            assert near(getattr(hour, name), getattr(wanted, name), slack), name


@settings(deadline=None, max_examples=40)
@given(st.lists(a_life(), min_size=1, max_size=2), st.sampled_from([7.0, 10.0, 60.0]))
def test_minutes_add_up_to_what_the_readings_said(tmp_path_factory, lives, step_s):
    folder = tmp_path_factory.mktemp("minutes")
    written(folder, [[(DP_101, reading) for reading in life] for life in lives], step_s)

    of_minute = defaultdict(list)
    for reading in (reading for life in lives for reading in life):
        of_minute[int(reading.at.utc_s // 60 * 60)].append(reading)
    minutes = rows(folder, Tier.MINUTES)

    assert [minute.start_utc_s for minute in minutes] == sorted(of_minute)
    for minute in minutes:
        found = of_minute[minute.start_utc_s]
        values = [reading.value for reading in found if reading.quality is not Quality.BAD]
        assert [minute.good, minute.uncertain, minute.bad] == [
            sum(reading.quality is quality for reading in found) for quality in Quality
        ]
        assert (minute.lowest, minute.highest) == (min(values, default=None), max(values, default=None))
        mean = math.fsum(values) / len(values) if values else None
        assert near(minute.mean, mean, 1e-9)


def test_an_hour_of_readings_has_the_mean_of_its_good_readings(tmp_path):
    readings = [a_reading(HOUR + second, 4 + second % 7 / 10) for second in range(3600)]
    written(tmp_path, [[(DP_101, reading) for reading in readings]], 7.0)

    (hour,) = rows(tmp_path, Tier.HOURS)

    assert hour.mean == pytest.approx(math.fsum(reading.value for reading in readings) / 3600, abs=1e-9)
    assert (hour.good, hour.quarters) == (3600, (900, 900, 900, 900))
    assert (hour.first_good_utc_s, hour.last_good_utc_s) == (HOUR, HOUR + 3599)


def test_a_value_that_is_absurd_is_kept_and_stops_nothing(tmp_path):
    absurd = [a_reading(HOUR + n, value) for n, value in enumerate((1e30, -1e30, math.inf, 3.0, 1e14))]
    written(tmp_path, [[(DP_101, reading) for reading in absurd]], 1.0)

    (hour,) = rows(tmp_path, Tier.HOURS)

    assert (hour.lowest, hour.highest, hour.good, hour.last) == (-1e30, math.inf, 5, 1e14)


def test_points_of_other_units_keep_their_digits(tmp_path):
    written(tmp_path, [[(FLOW, a_reading(HOUR, 20_123.45)), (DP_101, a_reading(HOUR, 4.123456))]], 10.0)

    assert rows(tmp_path, Tier.HOURS, FLOW)[0].mean == pytest.approx(20_123.45, abs=1e-9)
    assert rows(tmp_path, Tier.HOURS)[0].mean == pytest.approx(4.123456, abs=1e-12)


@pytest.mark.parametrize("starts", [1, 2, 3, 100])
def test_hours_come_in_order_whatever_the_size_of_a_page(tmp_path, monkeypatch, starts):
    monkeypatch.setattr("monitor.remember.history_reading.PAGE_STARTS", starts)
    life = [
        (point, a_reading(HOUR + 3600 * n)) for n in range(9) for point in (DP_101, FLOW) if n % 3 or point == FLOW
    ]
    written(tmp_path, [life], 10.0)

    with HistoryReader(tmp_path) as reader:
        every = [hour.start_utc_s for hour in reader.hours(DP_101)]
        some = [hour.start_utc_s for hour in reader.hours(DP_101, HOUR + 3600, HOUR + 5 * 3600)]
        both = [(row.start_utc_s, point) for point, row in reader.rows_of(Tier.HOURS, [DP_101, FLOW])]
        reach = reader.reach()

    assert every == [HOUR + 3600 * n for n in range(9) if n % 3]
    assert some == [HOUR + 3600 * n for n in (1, 2, 4)]
    assert [start for start, _ in both] == sorted(start for start, _ in both)
    assert len(both) == 9 + 6
    assert reach.hours == reach.steps == Span(HOUR, HOUR + 8 * 3600)


def test_a_point_nobody_recorded_has_no_hours(tmp_path):
    written(tmp_path, [[(DP_101, a_reading(HOUR))]], 10.0)

    assert rows(tmp_path, Tier.HOURS, PointId("DC-999", Role.DP)) == []


def test_a_running_store_tells_hours_and_how_far_back_it_goes(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, utc_s=float(HOUR), history_step_s=10.0) as store:
            assert store.figures().oldest_hour_utc_s is None
            for second in range(7200):
                store.record(DP_101, a_reading(HOUR + second))
            await store.flush()
            hours = await store.hours(DP_101, HOUR, HOUR + 7200)
            assert [hour.quarters for hour in hours] == [(900,) * 4] * 2
            figures = store.figures()
            assert (figures.oldest_step_utc_s, figures.oldest_minute_utc_s) == (HOUR, HOUR)
            assert figures.oldest_hour_utc_s == HOUR
            with HistoryReader(tmp_path) as reader:
                assert list(reader.hours(DP_101)) == hours
                assert len(list(reader.minutes(DP_101))) == 120
                assert list(reader.rows(DP_101)) == await store.history(DP_101, 0, 2 * HOUR)

    asyncio.run(story())


def test_a_file_of_the_first_version_has_steps_alone_until_a_daemon_opens_it(tmp_path):
    old = sqlite3.connect(tmp_path / "history.db")
    old.executescript((Path(__file__).parent / "old" / "history_v1.sql").read_text())
    old.close()

    with HistoryReader(tmp_path) as reader:
        assert list(reader.hours(DP_101)) == list(reader.minutes(DP_101)) == []
        assert len(list(reader.rows(DP_101))) == 2
        assert reader.reach() == Reach(steps=Span(1_700_000_000, 1_700_000_010))

    written(tmp_path, [[(DP_101, a_reading(HOUR, 4.5))]], 10.0)
    assert [row.mean for row in rows(tmp_path, Tier.HOURS)] == [4.5]
    assert len(rows(tmp_path, Tier.STEPS)) == 3


def test_a_page_without_points_is_empty(tmp_path):
    written(tmp_path, [[(DP_101, a_reading(HOUR))]], 10.0)
    with HistoryReader(tmp_path) as reader:
        assert tier_reading.page(reader._file, Tier.HOURS, {}, (0, HOUR), 5) == ([], None)
