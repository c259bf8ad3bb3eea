"""The change-out forecast: what it says of plain lives, and when it says that it cannot tell."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.interpret.settings import FilterSettings
from monitor.interpret.trend.ageing import Ageing
from monitor.interpret.trend.days import Day
from monitor.interpret.trend.forecast import Outlook, forecast
from monitor.interpret.trend.running import Meter
from tests.interpret.trend.story import DAY_S, Story

LIMITED = FilterSettings(change_out_inh2o=5.0, lead_time_s=30 * DAY_S)


def told(story, settings=LIMITED):
    return forecast(settings, story.state, story.utc_s)


def test_a_straight_rise_is_carried_on_to_the_limit():
    """From 3 inH2O by 0.01 a day: the limit of 5 is reached on day 200, a hundred days from now."""
    story = Story().days(100, 3.0, 0.01)

    seen = told(story)

    assert seen.outlook is Outlook.EXPECTED
    assert seen.residual_inh2o == pytest.approx(4.0, abs=0.03)
    assert seen.slope_low_inh2o_d < 0.01 < seen.slope_high_inh2o_d
    assert seen.slope_inh2o_d == pytest.approx(0.01, rel=0.1)
    assert (seen.due_utc_s - story.utc_s) / DAY_S == pytest.approx(100, rel=0.12)
    assert seen.earliest_utc_s < story.utc_s + 100 * DAY_S < seen.latest_utc_s
    assert seen.order_by_utc_s == seen.earliest_utc_s - 30 * DAY_S
    assert seen.days == pytest.approx(100, abs=0.1)


def test_days_on_the_calendar_are_more_than_days_of_running():
    story = Story()
    for day in range(200):
        story.hours(12, 3.0 + 0.005 * day, 0.01).stop(12)

    ahead_d = (told(story).due_utc_s - story.utc_s) / DAY_S

    assert ahead_d == pytest.approx(200, rel=0.15)


def test_before_two_weeks_of_running_it_says_how_many_days_are_missing():
    seen = told(Story().days(10, 3.0, 0.01))

    assert seen.outlook is Outlook.NOT_ENOUGH_DATA
    assert seen.missing == "4 more days of running"
    assert seen.due_utc_s is None
    assert seen.residual_inh2o == pytest.approx(3.1, abs=0.05)


def test_it_says_one_day_in_the_singular():
    assert told(Story().days(13, 3.0)).missing == "1 more day of running"


def test_nothing_at_all_is_not_enough():
    seen = told(Story())

    assert seen.outlook is Outlook.NOT_ENOUGH_DATA
    assert seen.missing == "14 more days of running"


def test_a_fan_that_never_ran_is_named():
    assert "the fan has not been seen to run" in told(Story().stop(100)).missing


def test_after_a_fall_without_a_stop_it_names_the_doubt():
    story = Story().days(60, 3.0, 0.02).days(4, 2.0)

    seen = told(story)

    assert seen.outlook is Outlook.NOT_ENOUGH_DATA
    assert "torn bag" in seen.missing


@pytest.mark.parametrize("slope", [0.0, -0.004])
def test_what_does_not_rise_has_no_date(slope):
    seen = told(Story().days(120, 3.0, slope))

    assert seen.outlook in {Outlook.NOT_RISING, Outlook.EXPECTED} if slope == 0.0 else {Outlook.NOT_RISING}
    if seen.outlook is Outlook.EXPECTED:
        assert seen.latest_utc_s is None or seen.latest_utc_s > 1000 * DAY_S


def test_some_days_at_the_limit_say_that_it_is_reached_and_one_does_not():
    story = Story().days(60, 4.0, 0.01).days(1, 5.4).days(4, 4.6)

    assert told(story).outlook is Outlook.EXPECTED

    story.days(5, 5.2)
    seen = told(story)
    assert seen.outlook is Outlook.REACHED
    assert seen.due_utc_s == seen.earliest_utc_s == seen.order_by_utc_s == story.utc_s


def test_without_a_limit_the_slope_is_told_and_no_date():
    seen = told(Story().days(60, 3.0, 0.01), FilterSettings())

    assert seen.outlook is Outlook.NO_LIMIT
    assert seen.slope_inh2o_d == pytest.approx(0.01, rel=0.1)
    assert seen.due_utc_s is None


def test_the_more_is_known_the_narrower_it_is():
    story, widths = Story(), []
    for share in range(1, 4):
        story.days(50, 3.0 + 0.5 * (share - 1), 0.01)
        seen = told(story)
        widths.append(seen.latest_utc_s - seen.earliest_utc_s)

    assert widths == sorted(widths, reverse=True)


def test_a_rise_that_gathers_pace_comes_sooner_than_a_straight_line_would():
    """3 + 2·(t/200)² inH2O: after 120 days 1.28 inH2O are left, and the slope of the last weeks needs 120 days."""
    story = Story()
    for day in range(120):
        story.days(1, 3.0 + 2.0 * (day / 200) ** 2)

    seen = told(story)
    straight_d = (5.0 - seen.residual_inh2o) / seen.slope_inh2o_d

    assert (seen.due_utc_s - story.utc_s) / DAY_S < 0.9 * straight_d
    assert seen.earliest_utc_s < story.utc_s + 80 * DAY_S < seen.latest_utc_s


def test_the_design_flow_decides_at_which_flow_it_is_told():
    story = Story(flow_cfm=8_000.0).days(30, 3.0)
    at_design = told(story, FilterSettings(change_out_inh2o=9.0, design_flow_cfm=10_000.0))

    assert told(story).residual_inh2o == pytest.approx(3.0, abs=0.03)
    assert at_design.residual_inh2o == pytest.approx(3.75, abs=0.04)


def test_a_month_is_thirty_days_and_a_bit():
    seen = told(Story().days(60, 3.0, 0.01))

    assert seen.slope_inh2o_month == pytest.approx(seen.slope_inh2o_d * 365.25 / 12)


levels = st.one_of(st.none(), st.floats(-0.5, 20.0).map(lambda level: round(level, 3)))


@given(
    st.lists(st.tuples(levels, levels, st.floats(0.1, 40.0)), max_size=120),
    st.floats(0.1, 12.0),
    st.floats(0.0, 400.0),
)
@settings(max_examples=150, deadline=None)
def test_whatever_was_seen_the_three_dates_stand_in_order(seen, limit, later_d):
    days, at_d = [], 20_000.0
    for number, (residual, low_end, passed_d) in enumerate(seen, start=1):
        at_d += max(passed_d, 1.0)
        days.append(Day(float(number), round(at_d, 2), residual, residual, low_end, 3))
    meter = Meter(at_d * DAY_S, at_d * DAY_S, len(seen) * DAY_S, 0.0, True)
    ageing = Ageing(since_utc_s=19_999 * DAY_S, meter=meter, days=tuple(days))
    now = (at_d + later_d) * DAY_S

    said = forecast(FilterSettings(change_out_inh2o=limit), ageing, now)

    assert (said.outlook is Outlook.NOT_ENOUGH_DATA) == bool(said.missing)
    if said.outlook is Outlook.EXPECTED:
        assert now <= said.earliest_utc_s <= said.due_utc_s
        assert said.latest_utc_s is None or said.due_utc_s <= said.latest_utc_s
        assert said.order_by_utc_s < said.earliest_utc_s
