"""Performance: worked examples, counted by hand; definitions are those of ISA-18.2-2016 where it has them."""

import pytest

from monitor.judge.performance import benchmarks
from monitor.judge.performance.benchmarks import Verdict
from monitor.judge.performance.figures import Waiting
from monitor.judge.performance.measuring import measure
from monitor.judge.performance.rates import chatter, floods, peak, periods_above
from monitor.judge.performance.span import DAY_S, HOUR_S, TEN_MINUTES_S, joined, periods_touched
from monitor.words import AlarmState, Cause, Priority
from tests.judge.story import (
    ACKED,
    LATCHED_UNACK,
    NORMAL,
    REMOVED,
    SHELVED,
    SUPPRESSED,
    T0,
    UNACK,
    Story,
    span,
)


def measured(story, start_s=0.0, end_s=DAY_S, **more):
    return measure(story.events, span(start_s, end_s), **more)


# ------------------------------------------------------------ rates


def test_a_flood_begins_with_the_eleventh_alarm_and_ends_when_four_remain():
    # Alarms every 30 s from 0 to 300: the eleventh comes at 300. The seventh (180 s) is the one whose leaving,
    # 600 s later, lets four remain: 780.
    stamps = [30.0 * n for n in range(11)]
    (flood,) = floods(stamps, 1, 5000.0)
    assert flood == (300.0, 780.0, 11, 11)


def test_ten_alarms_in_ten_minutes_are_no_flood():
    assert floods([60.0 * n for n in range(10)], 1, 5000.0) == ()
    # The eleventh comes just when the first has left the window.
    assert floods([60.0 * n for n in range(11)], 1, 5000.0) == ()


def test_a_flood_that_lasts_has_no_end_yet():
    (flood,) = floods([float(n) for n in range(12)], 1, 100.0)
    assert (flood.start_utc_s, flood.end_utc_s, flood.raised) == (10.0, None, 12)


def test_two_operators_bear_twice_as_much():
    stamps = [float(n) for n in range(20)]
    assert len(floods(stamps, 1, 5000.0)) == 1
    assert floods(stamps, 2, 5000.0) == ()
    assert len(floods([*stamps, 20.0], 2, 5000.0)) == 1


def test_the_peak_rolls_and_its_window_is_open_at_the_old_end():
    assert peak([0.0, 599.0, 600.0, 1198.0], TEN_MINUTES_S) == (3, 599.0)
    assert peak([], TEN_MINUTES_S) == (0, None)


def test_full_periods_are_counted_off_from_the_start():
    stamps = [100.0 + n for n in range(11)] + [1000.0 + n for n in range(10)]
    assert periods_above(stamps, 0.0, TEN_MINUTES_S, 10) == 1


@pytest.mark.parametrize(
    ("stamps", "bursts", "members"),
    [
        ([0.0, 20.0, 59.0], 1, 3),
        ([0.0, 30.0, 60.0], 0, 0),  # a minute has passed when the third comes
        ([0.0, 10.0, 20.0, 70.0, 75.0], 1, 5),  # 20, 70, 75 go on with the same burst
        ([0.0, 10.0, 20.0, 200.0, 210.0, 220.0], 2, 6),
        ([5.0, 5.0, 5.0], 1, 3),
        ([], 0, 0),
    ],
)
def test_three_times_within_a_minute_is_chattering(stamps, bursts, members):
    found = chatter(stamps)
    assert (found.bursts, sum(stamp in found.stamps for stamp in stamps)) == (bursts, members)


# ------------------------------------------------------------ spans


def test_spans_are_joined_and_the_periods_they_touch_are_counted_once():
    spans = joined([span(50, 60), span(0, 10), span(5, 20), span(30, 30)])
    assert spans == (span(0, 20), span(50, 60))
    assert periods_touched(spans, T0, 10.0) == 3
    assert periods_touched((span(0, 1), span(2, 3)), T0, 10.0) == 1
    assert periods_touched((span(9, 11),), T0, 10.0) == 2


# ------------------------------------------------------------ alarms over a period


def test_each_raising_is_one_alarm_and_nothing_else_is():
    story = Story()
    story.started()
    story.pulse(100)
    story.alarm(200, "tested", NORMAL, cause=Cause.PERSON)
    story.alarm(300, "suppressed", SUPPRESSED, "PDAH-102", Cause.DESIGN)
    story.alarm(400, "released", NORMAL, "PDAH-102", Cause.DESIGN)
    story.raised(400, "PDAH-102")
    story.raised(DAY_S, "PDAH-103")  # the period ends before it
    figures = measured(story)
    assert (figures.load.raised, figures.load.tags_raised, figures.tested) == (2, 2, 1)


def test_averages_are_of_the_watched_time_and_of_one_operator():
    story = Story()
    story.started(0)
    for n in range(12):
        story.pulse(n * 500.0)
    story.stopped(2 * HOUR_S)
    figures = measured(story)
    # 12 alarms in 2 watched hours of 24.
    assert figures.coverage.watched_s == 2 * HOUR_S
    assert figures.average(HOUR_S) == pytest.approx(6.0)
    assert figures.average(TEN_MINUTES_S) == pytest.approx(1.0)
    assert figures.load.full_hours == (0, 2)
    assert figures.load.full_ten_minutes == (0, 12)
    assert measured(story, operators=3).average(HOUR_S) == pytest.approx(2.0)


def test_nothing_is_divided_by_time_nobody_watched():
    figures = measured(Story())
    assert figures.coverage.watched == ()
    assert figures.average(HOUR_S) is None
    assert figures.flood_percent is None
    assert figures.load.full_hours.percent is None
    assert figures.load.top_ten_percent is None


def test_a_daemon_that_ended_without_a_word_watched_until_its_last_trace():
    story = Story()
    story.started(0)
    story.pulse(100)
    story.started(5 * HOUR_S)  # nobody said stopped
    by_events = measured(story, end_s=10 * HOUR_S)
    by_history = measured(story, end_s=10 * HOUR_S, last_trace=lambda _: T0 + 2 * HOUR_S)
    assert by_events.coverage.watched == (span(0, 120), span(5 * HOUR_S, 10 * HOUR_S))
    assert by_history.coverage.watched == (span(0, 2 * HOUR_S), span(5 * HOUR_S, 10 * HOUR_S))
    assert by_history.coverage.ends_unsaid == 1


def test_a_daemon_that_died_since_watched_until_its_last_trace():
    story = Story()
    story.started(0)
    assert measured(story).coverage.watched == (span(0, DAY_S),)
    assert measured(story, alive_until_utc_s=T0 + 900).coverage.watched == (span(0, 900),)


def test_who_tells_of_events_watches_even_where_the_beginning_is_lost():
    story = Story()
    story.pulse(600)
    assert measured(story).coverage.watched == (span(600, DAY_S),)
    assert measured(story).coverage.known_from_utc_s == T0 + 600


def test_what_stood_at_the_start_is_known_from_before():
    story = Story()
    story.started(0)
    story.raised(10)
    story.alarm(20, "shelved", SHELVED, "PDAH-102", Cause.PERSON, by="anna", facts={"reason": "rewiring"})
    figures = measured(story, start_s=10 * DAY_S, end_s=11 * DAY_S)
    assert figures.load.raised == 0
    assert [(one.tag, one.is_stale) for one in figures.nuisance.standing] == [("PDAH-101", True)]
    assert figures.answers.waiting == (Waiting("PDAH-101", "DC-101", T0 + 10),)
    (held,) = figures.holds.now
    assert (held.tag, held.by, held.reason, held.since_utc_s) == ("PDAH-102", "anna", "rewiring", T0 + 20)
    assert figures.holds.times[AlarmState.SHELVED] == (1, 1, DAY_S)


def test_stale_is_more_than_a_day_and_the_worst_day_is_found():
    story = Story()
    story.started(0)
    story.raised(0, "PDAH-101")
    story.raised(HOUR_S, "PDAH-102")
    story.acknowledged(2 * HOUR_S, "PDAH-101")  # still active
    story.raised(3 * HOUR_S, "PDAH-103")
    story.returned(DAY_S + 3 * HOUR_S, "PDAH-103")  # a day to the second is not more
    story.returned(2 * DAY_S, "PDAH-102")
    figures = measured(story, end_s=4 * DAY_S)
    # On day 1 (the second) 101 and 102 were stale, later 101 alone.
    assert figures.nuisance.stale_day == (2, T0 + DAY_S)
    assert [one.tag for one in figures.nuisance.standing if one.is_stale] == ["PDAH-101"]


def test_fleeting_is_gone_within_seconds_by_itself_and_not_in_a_burst():
    story = Story()
    story.started()
    story.pulse(100, "PDAH-101", length_s=9.0)
    story.pulse(200, "PDAH-102", length_s=10.0)  # ten seconds are not within ten
    for n in range(3):
        story.pulse(300 + 15.0 * n, "PDAH-103", length_s=5.0)
    story.raised(400, "PDAH-104")
    story.alarm(403, "suppressed", SUPPRESSED, "PDAH-104", Cause.DESIGN)  # held back, not gone
    figures = measured(story)
    assert figures.nuisance.fleeting == (("PDAH-101", "DC-101", 1),)
    assert figures.nuisance.chattering == (("PDAH-103", "DC-103", 1),)


def test_times_to_acknowledge_run_from_when_the_answer_was_owed():
    story = Story()
    story.started()
    for n, wait_s in enumerate((60, 120, 600)):
        story.raised(n * 1000, f"PDAH-10{n}")
        story.acknowledged(n * 1000 + wait_s, f"PDAH-10{n}")
    answers = measured(story).answers
    # Nearest rank: the 90th of three is the third.
    assert (answers.acknowledged, answers.median_s, answers.ninetieth_s) == (3, 120.0, 600.0)
    assert (answers.longest_s, answers.longest_tag) == (600.0, "PDAH-102")


def test_an_alarm_that_returns_and_is_raised_again_waits_since_its_first_raising():
    story = Story()
    story.started()
    story.raised(0)
    story.returned(100)
    story.raised(200)
    story.acknowledged(300)
    assert measured(story).answers.longest_s == 300.0


def test_answering_after_the_return_to_normal_is_an_answer():
    story = Story()
    story.started()
    story.pulse(0, length_s=45.0)
    assert measured(story).answers.median_s == 45.0


def test_what_the_timer_cleared_and_nobody_saw_is_counted_and_named():
    story = Story()
    story.started()
    story.raised(0, "PDAH-101")
    story.latched(60, "PDAH-101")
    story.cleared(1860, "PDAH-101")
    story.raised(0, "PDAH-102")
    story.acknowledged(30, "PDAH-102")
    story.latched(60, "PDAH-102")
    story.cleared(1860, "PDAH-102")  # the timer too, but somebody had seen it
    answers = measured(story).answers
    assert answers.unseen == (("PDAH-101", "DC-101", T0, T0 + 1860),)
    assert (answers.never, answers.acknowledged) == (1, 1)


def test_a_shelf_ends_the_wait_without_being_an_answer_and_a_design_does_not_end_it():
    story = Story()
    story.started()
    story.raised(0, "PDAH-101")
    story.alarm(50, "shelved", SHELVED, "PDAH-101", Cause.PERSON)
    story.raised(0, "PDAH-102")
    story.alarm(10, "suppressed", SUPPRESSED, "PDAH-102", Cause.DESIGN, facts={"why": "fan_stopped"})
    story.alarm(90, "released", UNACK, "PDAH-102", Cause.DESIGN)
    story.acknowledged(100, "PDAH-102")
    answers = measured(story).answers
    assert (answers.put_aside, answers.acknowledged, answers.longest_s, answers.never) == (1, 1, 100.0, 0)


def test_the_time_held_back_is_summed_by_state_and_cut_to_the_period():
    story = Story()
    story.started(-HOUR_S)
    story.alarm(-100, "suppressed", SUPPRESSED, "PDAH-101", Cause.DESIGN)
    story.alarm(200, "released", NORMAL, "PDAH-101", Cause.DESIGN)
    story.alarm(300, "suppressed", SUPPRESSED, "PDAH-101", Cause.DESIGN)
    story.alarm(400, "taken_out_of_service", REMOVED, "PDAH-101", Cause.PERSON, by="ben")
    times = measured(story, end_s=1000.0).holds.times
    assert times[SUPPRESSED] == (1, 2, 300.0)
    assert times[REMOVED] == (1, 1, 600.0)
    assert times[SHELVED] == (0, 0, 0.0)


def test_a_consequence_names_its_cause():
    story = Story()
    story.started()
    facts = {"why": "consequence", "under": "PDAHH-101", "reason": "stale"}
    story.alarm(10, "suppressed", SUPPRESSED, cause=Cause.DESIGN, facts=facts)
    assert measured(story).holds.now[0].reason == "consequence of PDAHH-101"


def test_an_alarm_met_in_the_middle_of_its_story_is_followed_back_as_far_as_its_event_says():
    story = Story()
    story.states["PDAH-101"], story.raised_utc_s["PDAH-101"] = UNACK, T0 - 3 * DAY_S
    story.started(0)
    story.acknowledged(DAY_S)
    figures = measured(story, end_s=2 * DAY_S)
    assert figures.answers.longest_s == 4 * DAY_S
    assert figures.nuisance.standing[0].since_utc_s == T0 - 3 * DAY_S


def test_commands_refused_are_counted_by_code():
    story = Story()
    story.started()
    story.system(1, "command_refused", code="late")
    story.system(2, "command_refused", code="late")
    story.system(3, "command_refused", code="not_allowed")
    assert measured(story).refused == {"late": 2, "not_allowed": 1}


def test_the_most_frequent_come_first_and_are_at_most_ten():
    story = Story()
    story.started()
    for n in range(12):
        for again in range(12 - n):
            story.pulse(n * 2000 + again * 100, f"PDAH-{100 + n}")
    load = measured(story).load
    assert [one.times for one in load.most_frequent] == [12, 11, 10, 9, 8, 7, 6, 5, 4, 3]
    assert load.top_ten_percent == pytest.approx(100 * 75 / 78)


def test_priorities_are_split_in_per_cent():
    story = Story()
    story.started()
    for n in range(20):
        priority = Priority.HIGH if n == 0 else Priority.MEDIUM if n < 4 else Priority.LOW
        story.pulse(n * 1000, f"PDAH-{100 + n}", priority=priority)
    load = measured(story).load
    # 1, 3 and 16 of 20: the split of the standard.
    assert [load.percent_of(*priorities) for _, priorities, _ in benchmarks.SPLIT] == [80.0, 15.0, 5.0, 0.0]
    verdicts = [benchmark.verdict(load.percent_of(*which)) for _, which, benchmark in benchmarks.SPLIT]
    assert verdicts == [Verdict.WITHIN] * 4


@pytest.mark.parametrize(
    ("benchmark", "value", "verdict"),
    [
        # Per 10 minutes about 1, at most 2; per hour 6 and 12 (ISA-18.2-2016); per day 150 and 300 (2009).
        (benchmarks.TEN_MINUTES, 1.0, Verdict.WITHIN),
        (benchmarks.TEN_MINUTES, 1.01, Verdict.MANAGEABLE),
        (benchmarks.TEN_MINUTES, 2.0, Verdict.MANAGEABLE),
        (benchmarks.TEN_MINUTES, 2.01, Verdict.ABOVE),
        (benchmarks.HOUR, 6.0, Verdict.WITHIN),
        (benchmarks.HOUR, 12.1, Verdict.ABOVE),
        (benchmarks.DAY, 150.0, Verdict.WITHIN),
        (benchmarks.DAY, 300.0, Verdict.MANAGEABLE),
        (benchmarks.PEAK_TEN_MINUTES, 10, Verdict.WITHIN),
        (benchmarks.PEAK_TEN_MINUTES, 11, Verdict.ABOVE),
        (benchmarks.STALE, 4, Verdict.WITHIN),
        (benchmarks.STALE, 5, Verdict.ABOVE),
        (benchmarks.CHATTERING, 0, Verdict.WITHIN),
        (benchmarks.CHATTERING, 1, Verdict.ABOVE),
        (benchmarks.TOP_TEN, 4.9, Verdict.MANAGEABLE),
        (benchmarks.STANDING, 10, Verdict.ABOVE),  # EEMUA 191: fewer than 10
        (benchmarks.SHELVED, 29, Verdict.WITHIN),  # EEMUA 191: fewer than 30
        (benchmarks.SPLIT[0][2], 79.9, Verdict.BELOW),
        (benchmarks.SPLIT[3][2], 1.0, Verdict.ABOVE),
    ],
)
def test_a_figure_is_held_against_the_published_benchmark(benchmark, value, verdict):
    assert benchmark.verdict(value) is verdict


def test_a_clock_that_was_set_back_makes_no_negative_time():
    story = Story()
    story.started(0)
    story.raised(5000)
    story.alarm(3000, "acknowledged", ACKED, cause=Cause.PERSON)
    story.alarm(2000, "latched", LATCHED_UNACK)
    story.started(1000)
    figures = measured(story)
    assert figures.answers.longest_s == 0.0
    assert figures.coverage.watched_s <= DAY_S
    assert figures.nuisance.fleeting == ()
