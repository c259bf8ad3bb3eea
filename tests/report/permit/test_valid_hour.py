"""Which hours count: the wording of the rules, with the answers worked out by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.judge.performance.span import Span
from monitor.report.permit.hour import HourState, Lack, Ran
from monitor.report.permit.hours import hours
from monitor.report.permit.settings import PermitSettings, ValidHour
from monitor.report.permit.sources import Maintenance
from tests.report.permit.making import H0, minute, of_readings

FOUR, THREE, TWO = ValidHour.FOUR_QUARTERS, ValidHour.THREE_QUARTERS, ValidHour.TWO_POINTS
BAD = None
#: The monitor was serviced from :30 to :31, so the hour is one of maintenance, and no reading falls into it.
SERVICE = Maintenance(Span(minute(30), minute(31)), "anna", "zero checked")


def judged(rule, points, ran=None, maintenance=(), others=()):
    """The one hour; ``points`` are (minute, second), ``ran`` is the minute in which the fan stopped."""
    dp = [(minute(*point), 3.0) for point in points] + [(minute(*point), BAD) for point in others]
    fan = None if ran is None else [(minute(number, 30), float(number < ran)) for number in range(60)]
    settings = PermitSettings(valid_hour=rule)
    return hours(of_readings(sorted(dp), fan, maintenance=maintenance, settings=settings))[0]


A_POINT_IN_EACH = [(5,), (20,), (35,), (50,)]
THIRD_EMPTY = [(1,), (14,), (16,), (46,)]


@pytest.mark.parametrize(
    ("rule", "points", "more", "lack"),
    [
        pytest.param(FOUR, A_POINT_IN_EACH, {}, Lack.NOTHING, id="(i) a point in each quarter"),
        pytest.param(FOUR, THIRD_EMPTY, {}, Lack.QUARTER_EMPTY, id="(i) four points, the third quarter empty"),
        pytest.param(FOUR, [(7,), (22,)], {"ran": 25}, Lack.NOTHING, id="(ii) ran :00 to :25, both quarters"),
        pytest.param(FOUR, [(7,)], {"ran": 25}, Lack.QUARTER_EMPTY, id="(ii) ran :00 to :25, one of two"),
        pytest.param(
            FOUR, [(7,), (40,), (50,)], {"ran": 25}, Lack.QUARTER_EMPTY, id="(ii) a point after the stop is none"
        ),
        pytest.param(
            FOUR,
            [(14, 59), (15, 1)],
            {"maintenance": [SERVICE]},
            Lack.POINTS_TOO_CLOSE,
            id="(iii) two seconds apart in two quarters",
        ),
        pytest.param(FOUR, [(10,), (25,)], {"maintenance": [SERVICE]}, Lack.NOTHING, id="(iii) 15 min apart"),
        pytest.param(
            FOUR, [(10,), (24, 59)], {"maintenance": [SERVICE]}, Lack.POINTS_TOO_CLOSE, id="(iii) a second less"
        ),
        pytest.param(FOUR, [(10,)], {"maintenance": [SERVICE]}, Lack.TOO_FEW_POINTS, id="(iii) only one"),
        pytest.param(
            FOUR, [(3,)], {"maintenance": [SERVICE], "ran": 12}, Lack.NOTHING, id="(iii)(B) one quarter, one point"
        ),
        pytest.param(THREE, THIRD_EMPTY, {}, Lack.NOTHING, id="63.1965: three of four"),
        pytest.param(THREE, [(1,), (14,), (16,)], {}, Lack.TOO_FEW_QUARTERS, id="63.1965: two of four"),
        pytest.param(TWO, [(1,), (2,)], {}, Lack.NOTHING, id="60.1825: two points"),
        pytest.param(TWO, [(1,)], {}, Lack.TOO_FEW_POINTS, id="60.1825: one point"),
        pytest.param(FOUR, [], {}, Lack.NO_POINT_IN_OPERATION, id="nothing at all"),
        pytest.param(
            TWO, [(40,), (50,)], {"ran": 25}, Lack.NO_POINT_IN_OPERATION, id="nothing while the unit operated"
        ),
    ],
)
def test_an_hour_counts_by_the_words_of_the_rule(rule, points, more, lack):
    hour = judged(rule, points, **more)

    assert hour.lack is lack
    assert hour.state is (HourState.VALID if lack is Lack.NOTHING else HourState.INVALID)


def test_readings_that_are_not_good_fill_no_quarter():
    hour = judged(FOUR, THIRD_EMPTY, others=[(33,), (34,)])

    assert (hour.lack, hour.points, hour.left_out) == (Lack.QUARTER_EMPTY, 4, 2)


def test_an_hour_in_which_the_fan_stood_is_no_operating_hour():
    hour = judged(FOUR, A_POINT_IN_EACH, ran=0)

    assert hour.state is HourState.NOT_OPERATING
    assert (hour.points, hour.left_out, hour.mean_inh2o, hour.operating_s) == (0, 4, None, 0.0)


def test_the_average_of_a_partial_hour_is_of_its_operation_alone():
    """Ran for 20 min at 4 inH2O, then stood at 0.1: the average is 4, not (20 × 4 + 40 × 0.1) / 60 = 1.4."""
    dp = [(minute(number, 30), 4.0 if number < 20 else 0.1) for number in range(60)]
    fan = [(minute(number, 30), float(number < 20)) for number in range(60)]
    hour = hours(of_readings(dp, fan))[0]

    assert (hour.state, hour.mean_inh2o, hour.points, hour.left_out) == (HourState.VALID, 4.0, 20, 40)
    assert hour.ran == (Ran.RAN, Ran.RAN, Ran.STOPPED, Ran.STOPPED)
    assert (hour.operating_s, hour.by_minutes) == (1200.0, True)
    assert (hour.lowest_inh2o, hour.highest_inh2o) == (4.0, 4.0)


def test_readings_under_maintenance_are_in_no_average():
    """Forty good minutes at 3 inH2O, twenty (:20 to :40) on the calibrator at 9."""
    dp = [(minute(number, 30), 9.0 if 20 <= number < 40 else 3.0) for number in range(60)]
    service = Maintenance(Span(minute(20), minute(40)), "ben", "calibrated")
    hour = hours(of_readings(dp, maintenance=[service]))[0]

    assert (hour.state, hour.is_maintenance, hour.mean_inh2o, hour.points) == (HourState.VALID, True, 3.0, 40)
    assert hour.quarters == (15, 5, 5, 15)


def test_an_hour_wholly_under_maintenance_has_no_average():
    service = Maintenance(Span(minute(-10), minute(90)), "ben", "calibrated")
    hour = hours(of_readings([(minute(number), 9.0) for number in range(60)], maintenance=[service]))[0]

    assert (hour.state, hour.points, hour.left_out) == (HourState.INVALID, 0, 60)


def test_an_unread_fan_hides_no_hour():
    """The fan was read for the first quarter only, and stood: the other three count, and the first does not."""
    dp = [(minute(number, 30), 0.1 if number < 15 else 5.0) for number in range(60)]
    fan = [(minute(number, 30), 0.0 if number < 15 else BAD) for number in range(60)]
    hour = hours(of_readings(dp, fan))[0]

    assert hour.ran == (Ran.STOPPED, Ran.NOT_KNOWN, Ran.NOT_KNOWN, Ran.NOT_KNOWN)
    assert (hour.state, hour.mean_inh2o, hour.points, hour.operating_s) == (HourState.VALID, 5.0, 45, 2700.0)


def test_a_partial_hour_whose_minutes_are_gone_is_judged_as_a_whole():
    dp = [(minute(number, 30), 4.0) for number in range(60)]
    fan = [(minute(number, 30), float(number < 15)) for number in range(60)]
    made = of_readings(dp, fan)
    hour = hours(type(made)(**{**_fields(made), "minutes": (), "fan_minutes": ()}))[0]

    assert (hour.ran, hour.by_minutes, hour.points) == ((Ran.RAN,) * 4, False, 60)
    assert hour.operating_s == 900.0


def _fields(made):
    return {name: getattr(made, name) for name in made.__slots__}


def test_hours_before_the_history_are_not_called_downtime():
    found = hours(of_readings([(minute(5), 3.0)], hours=3, start=H0 - 7200, known_from_utc_s=H0))

    assert [hour.state for hour in found] == [HourState.NOT_KEPT, HourState.NOT_KEPT, HourState.INVALID]


SECONDS = st.lists(st.integers(0, 3599), max_size=12, unique=True).map(sorted)


@given(SECONDS)
def test_the_rule_of_four_quarters_is_what_its_words_say(seconds):
    """Against the words themselves: some point in [0, 15), in [15, 30), in [30, 45) and in [45, 60) min."""
    hour = judged(FOUR, [(0, second) for second in seconds])
    filled = all(any(low <= second < low + 900 for second in seconds) for low in (0, 900, 1800, 2700))

    assert (hour.state is HourState.VALID) == filled


@given(SECONDS, st.integers(1, 60))
def test_a_stricter_reading_of_an_hour_never_finds_more(seconds, ran):
    """What is valid with the fan read is never invalid for want of points that lie outside of its running."""
    inside = [second for second in seconds if second < ran * 60]
    with_all = judged(FOUR, [(0, second) for second in seconds], ran=ran)
    with_inside = judged(FOUR, [(0, second) for second in inside], ran=ran)

    assert with_all.state is with_inside.state
    assert with_all.points == with_inside.points == len(inside)


@given(SECONDS)
def test_a_point_more_never_makes_a_valid_hour_invalid(seconds):
    for rule in ValidHour:
        before = judged(rule, [(0, second) for second in seconds])
        after = judged(rule, [(0, second) for second in sorted({*seconds, 1000})])

        assert after.state is HourState.VALID or before.state is HourState.INVALID
