"""Thinning: rows say what the readings said, whatever the clock does."""

import math

from hypothesis import given
from hypothesis import strategies as st

from monitor.remember import thinning
from monitor.remember.thinning import Thinner
from monitor.words import Instant, PointId, Quality, Reading, Reason, Role

DP = PointId("DC-101", Role.DP)
FAN = PointId("DC-101", Role.FAN_RUNNING)
REASONS = {
    Quality.GOOD: [Reason.NONE],
    Quality.UNCERTAIN: [Reason.LOOP_ABOVE_MEASURING, Reason.OUT_OF_RANGE],
    Quality.BAD: [Reason.NO_ANSWER, Reason.STALE, Reason.FROZEN],
}


@st.composite
def readings(draw) -> Reading:
    quality = draw(st.sampled_from(Quality))
    value = None if quality is Quality.BAD else draw(st.floats(-50.0, 50.0))
    at_s = draw(st.integers(0, 2000)) / 10
    return Reading(
        quality=quality, reason=draw(st.sampled_from(REASONS[quality])), at=Instant(0, at_s), value=value
    )


def _runs(readings, step_s):
    """The oracle: neighbouring readings of one step and one minute, the slow way."""
    runs = []
    for reading in readings:
        key = (math.floor(reading.at.utc_s / step_s) * step_s, math.floor(reading.at.utc_s / 60) * 60)
        if not runs or runs[-1][0] != key:
            runs.append((key, []))
        runs[-1][1].append(reading)
    return runs


@given(st.lists(readings(), max_size=60), st.sampled_from([1.0, 7.0, 10.0, 90.0]))
def test_every_row_says_what_its_readings_said(given_readings, step_s):
    thinner = Thinner(step_s)
    for reading in given_readings:
        thinner.record(DP, reading)
    thinner.finish_all()
    runs = _runs(given_readings, step_s)
    assert len(runs) == len(thinner.finished)
    for ((start, minute), run), (point, row, minute_utc_s, total, good) in zip(
        runs, thinner.finished, strict=True
    ):
        values = [reading.value for reading in run if reading.quality is not Quality.BAD]
        assert (point, row.start_utc_s, minute_utc_s) == (DP, start, minute)
        assert math.isclose(total, math.fsum(values), abs_tol=1e-9)
        assert row.last == (values[-1] if values else None)
        assert row.lowest == min(values, default=None)
        assert row.highest == max(values, default=None)
        assert (
            row.mean is None
            if not values
            else math.isclose(row.mean, math.fsum(values) / len(values), abs_tol=1e-9)
        )
        counts = [sum(reading.quality is quality for reading in run) for quality in Quality]
        assert [row.good, row.uncertain, row.bad] == counts
        worst = max((reading.quality for reading in run), key=list(Quality).index)
        assert row.worst is [reading.reason for reading in run if reading.quality is worst][-1]
        _check_good(good, [reading for reading in run if reading.quality is Quality.GOOD])


def _check_good(good, readings):
    if not readings:
        assert good is None
        return
    values, moments = [reading.value for reading in readings], [reading.at.utc_s for reading in readings]
    assert math.isclose(good.total, math.fsum(values), abs_tol=1e-9)
    assert (good.lowest, good.highest) == (min(values), max(values))
    assert (good.first_utc_s, good.last_utc_s) == (min(moments), max(moments))


def test_points_are_kept_apart():
    thinner = Thinner(10.0)
    for at_s in (1.0, 2.0):
        thinner.record(DP, Reading(quality=Quality.GOOD, reason=Reason.NONE, at=Instant(0, at_s), value=4.0))
        thinner.record(FAN, Reading(quality=Quality.GOOD, reason=Reason.NONE, at=Instant(0, at_s), value=1.0))
    thinner.finish_all()
    assert {point: (row.mean, row.good) for point, row, *_ in thinner.finished} == {DP: (4.0, 2), FAN: (1.0, 2)}


def test_a_bad_reading_never_lends_its_value():
    thinner = Thinner(10.0)
    thinner.record(DP, Reading(quality=Quality.BAD, reason=Reason.STALE, at=Instant(0, 1.0), value=7.0))
    thinner.finish_all()
    assert thinner.finished[0].row.last is None


def test_what_nobody_fetches_is_bounded_and_counted(monkeypatch):
    monkeypatch.setattr(thinning, "MAX_FINISHED", 5)
    thinner = Thinner(1.0)
    for at_s in range(9):
        thinner.record(
            DP, Reading(quality=Quality.GOOD, reason=Reason.NONE, at=Instant(0, float(at_s)), value=1.0)
        )
    assert (len(thinner.finished), thinner.dropped) == (5, 3)
