"""The set of filters in service: what a day is, when a set is new, and what is kept of it."""

import dataclasses

import pytest
from pydantic import TypeAdapter

from monitor.interpret.settings import FilterSettings
from monitor.interpret.trend.ageing import Ageing, filters_changed
from monitor.interpret.trend.series import points, running_share
from tests.interpret.trend.story import DAY_S, START_UTC_S, Story


def test_a_day_is_twenty_four_hours_of_running_however_long_that_takes():
    story = Story()
    for _ in range(60):
        story.hours(8, 3.0).stop(16)

    assert len(story.state.days) == 20
    assert story.state.meter.run_s == 480 * 3600.0
    assert running_share(story.state.days, story.state.meter.run_s, story.utc_s) == pytest.approx(1 / 3, abs=0.02)


def test_the_day_keeps_the_median_residual_so_that_one_wild_cycle_does_not_count():
    story = Story(noise_inh2o=0.0).hours(12, 3.0).hours(1, 9.0).hours(11, 3.0)

    (day,) = story.state.days

    assert (day.residual_inh2o, day.peak_inh2o, day.cycles) == (3.0, 5.0, 24)


def test_without_a_sawtooth_the_low_end_of_the_running_dp_stands_in():
    story = Story(has_cycles=False, noise_inh2o=0.0).days(3, 3.0)

    assert [day.residual_inh2o for day in story.state.days] == [None] * 3
    # The hours of the story lie 0.6 inH2O above its residual.
    assert [shown.level for shown in points(story.state.days)] == [3.6] * 3


def test_the_two_kinds_of_figures_are_never_in_one_trend():
    story = Story(noise_inh2o=0.0).days(30, 3.0)
    story.has_cycles = False
    story.days(10, 3.0)

    assert {shown.level for shown in points(story.state.days)} == {3.6}


def test_nobody_says_whether_the_fan_runs_so_the_dp_does():
    story = Story(tells_fan=False).hours(10, 3.0).stop(14)

    assert story.state.meter.run_s == 10 * 3600.0


def test_a_short_hole_between_running_counts_as_running_and_a_long_one_in_part():
    short = Story().hours(10, 3.0).unseen(3).hours(1, 3.0).state.meter.run_s
    long = Story()
    for _ in range(14):
        long.hours(12, 3.0).stop(12)
    before_s = long.state.meter.run_s
    long.unseen(240).hours(1, 3.0)

    assert short == 14 * 3600.0
    assert long.state.meter.run_s - before_s == pytest.approx(121 * 3600.0, rel=0.06)


def test_at_half_the_flow_the_same_filter_is_known_for_the_same():
    """S = ΔP/V (EPA/452/B-02-001 Section 6 Chapter 1): half the flow, half the DP, nothing changed."""
    story = Story(noise_inh2o=0.0, flow_cfm=10_000.0).days(3, 3.0)
    story.flow_cfm = 5_000.0
    story.days(3, 1.5)

    assert [day.residual_inh2o for day in story.state.days] == [3.0] * 6


def test_new_filters_are_noticed_within_three_days_of_running():
    story = Story().days(60, 3.0, 0.02).stop(6)
    changed_utc_s = story.utc_s
    story.days(3, 1.8)

    assert story.state.noticed
    assert story.state.since_utc_s == pytest.approx(changed_utc_s, abs=2 * 3600.0)
    assert all(day.residual_inh2o < 2.0 for day in story.state.days)
    (life,) = story.state.lives
    assert life.since_utc_s == pytest.approx(START_UTC_S, abs=3600.0)
    assert life.residual_inh2o == pytest.approx(4.15, abs=0.1)
    assert life.slope_inh2o_d == pytest.approx(0.02, rel=0.05)
    assert life.days == pytest.approx(60.0, abs=1.0)


def test_new_filters_are_noticed_where_the_change_went_unseen():
    story = Story().days(60, 3.0, 0.02).unseen(8).days(3, 1.8)

    assert story.state.noticed


def test_new_filters_are_noticed_without_a_sawtooth():
    story = Story(has_cycles=False).days(60, 3.0, 0.02).stop(6).days(3, 1.8)

    assert story.state.noticed


def test_a_torn_bag_is_not_taken_for_new_filters_but_said_to_be_uncertain():
    story = Story().days(60, 3.0, 0.02).hours(7, 4.2)
    torn_utc_s = story.utc_s
    story.days(4, 2.2)

    assert not story.state.noticed
    assert story.state.since_utc_s < START_UTC_S + DAY_S
    assert story.state.fell_utc_s == pytest.approx(torn_utc_s, abs=2 * 3600.0)


def test_a_bag_torn_some_hours_after_a_stop_is_not_taken_for_new_filters():
    story = Story().days(60, 3.0, 0.02).stop(48).hours(5, 4.2).days(4, 2.2)

    assert not story.state.noticed
    assert story.state.fell_utc_s is not None


def test_a_low_start_after_a_weekend_is_not_a_change():
    """Cleaning while the fan stands still takes the cake off; a day later everything is as it was."""
    story = Story().days(30, 3.0)
    for _ in range(8):
        story.stop(60).hours(30, 2.0).hours(78, 3.0)

    assert not story.state.noticed
    assert story.state.fell_utc_s is None


def test_a_start_set_point_moved_in_a_shutdown_is_not_a_change():
    story = Story().days(40, 3.5).stop(12)
    story.peak_inh2o = 3.8
    story.days(5, 2.3)

    assert not story.state.noticed
    assert story.state.fell_utc_s is not None


def test_a_hose_that_came_off_in_a_stop_is_not_a_change():
    story = Story(has_cycles=False).days(40, 3.5).stop(12).days(5, -0.5)

    assert not story.state.noticed


def test_a_wet_week_that_goes_by_is_not_a_change():
    story = Story().days(40, 2.5).days(9, 4.0).stop(12).days(5, 2.5)

    assert not story.state.noticed
    assert story.state.fell_utc_s is None


def test_a_change_that_somebody_tells_begins_a_new_life_from_that_moment():
    story = Story().days(30, 3.0).stop(6)
    told_utc_s = story.utc_s
    story.days(4, 2.9)

    state = filters_changed(story.state, told_utc_s)

    assert (state.since_utc_s, state.noticed) == (told_utc_s, False)
    assert 2 <= len(state.days) <= 4
    assert state.lives[0].until_utc_s == told_utc_s


def test_a_change_that_is_told_after_it_was_noticed_only_corrects_the_date():
    story = Story().days(60, 3.0, 0.02).stop(6).days(4, 1.8)
    days, since_utc_s = story.state.days, story.state.since_utc_s

    state = filters_changed(story.state, since_utc_s + DAY_S)

    assert state.since_utc_s == since_utc_s + DAY_S
    assert not state.noticed
    assert state.days == days
    assert len(state.lives) == 1


def test_a_newer_date_in_the_site_file_begins_a_new_life_once():
    story = Story().days(30, 3.0)
    story.settings = FilterSettings(installed_utc_s=story.utc_s)
    story.days(5, 2.9)

    assert story.state.since_utc_s == story.settings.installed_utc_s
    assert len(story.state.lives) == 1
    assert len(story.state.days) == 5


def test_an_older_date_in_the_site_file_only_says_how_old_the_set_is():
    settings = FilterSettings(installed_utc_s=START_UTC_S - 90 * DAY_S)
    story = Story(settings=settings).days(5, 3.0)

    assert story.state.since_utc_s == settings.installed_utc_s
    assert not story.state.lives


def test_a_date_in_the_future_is_waited_for():
    story = Story(settings=FilterSettings(installed_utc_s=START_UTC_S + 10 * DAY_S)).days(9, 3.0)

    assert not story.state.lives
    assert story.state.since_utc_s < START_UTC_S + DAY_S

    story.days(3, 3.0)
    assert story.state.since_utc_s == START_UTC_S + 10 * DAY_S


def test_the_state_goes_through_json_at_any_hour_and_goes_on_the_same():
    adapter = TypeAdapter(Ageing)
    story = Story(flow_cfm=9_000.0).days(40, 3.0, 0.02).hours(5, 3.8).stop(5).hours(30, 1.8)
    twin = dataclasses.replace(story, state=adapter.validate_json(adapter.dump_json(story.state)))

    assert twin.state == story.state
    assert type(twin.state) is Ageing


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_a_life_of_three_years_is_kept_in_twenty_kilobytes(share):
    """A thousand collectors come to 20 MB at most: days are merged in pairs as they grow old."""
    story = Story(flow_cfm=9_000.0)
    for _ in range(3 * 365):
        hours = int(24 * share)
        story.hours(hours, 3.0).stop(24 - hours)

    size = len(TypeAdapter(Ageing).dump_json(story.state))

    assert size <= 20_000
    assert story.state.days[-1].run_d == pytest.approx(3 * 365 * share, abs=1.0)
    # Merged or not, each stands for days of its own, in order.
    ends = [day.run_d for day in story.state.days]
    assert ends == sorted(set(ends))


def test_of_many_lives_the_last_ten_are_kept():
    story = Story().days(2, 3.0)
    for _ in range(12):
        story.days(3, 3.0)
        story.state = filters_changed(story.state, story.utc_s)

    assert len(story.state.lives) == 10
