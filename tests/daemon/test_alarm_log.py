"""Alarm log: the figures of now, from event to event; counted by hand, and against the figures over a period."""

import sys
import time
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.daemon.alarm_log import AlarmLog
from monitor.judge.performance.measuring import measure
from monitor.judge.performance.span import DAY_S, HOUR_S
from monitor.words import Cause, Priority
from tests.judge.story import SHELVED, T0, Story, span


def log_of(story, began_s=0.0, refill=None):
    log = AlarmLog(T0 + began_s)
    log.refill(refill.events if refill else [])
    for event in story.events:
        log.take(event)
    return log


def now(story, at_s, **more):
    return log_of(story, **more).figures(T0 + at_s)


def test_alarms_are_counted_by_priority_from_zero_for_each():
    story = Story()
    story.pulse(0, priority=Priority.URGENT)
    story.pulse(100, "PDAL-102", priority=Priority.LOW)
    story.alarm(200, "tested", story.states["PDAL-102"], "PDAL-102", Cause.PERSON)
    found = now(story, 300).raised
    assert found == {**dict.fromkeys(Priority, 0), Priority.URGENT: 1, Priority.LOW: 1}


def test_alarms_leave_the_windows_one_by_one():
    story = Story()
    story.pulse(0)
    story.pulse(1800, "PDAL-102")
    log = log_of(story)
    counts = [
        (found.raised_10_min, found.raised_hour, found.raised_day, found.raised_30_days)
        for at_s in (1900, 3900, 2 * HOUR_S, 2 * DAY_S, 31 * DAY_S)
        for found in [log.figures(T0 + at_s)]
    ]
    assert counts == [(1, 2, 2, 2), (0, 1, 2, 2), (0, 0, 2, 2), (0, 0, 0, 2), (0, 0, 0, 0)]


def test_a_flood_shows_while_it_lasts_and_its_time_is_counted_to_the_second():
    story = Story()
    for n in range(11):
        story.pulse(n * 30.0, f"PDAH-{100 + n}", length_s=1.0)
    log = log_of(story)
    # From the eleventh at 300 until four remain, at 780 (the seventh leaves).
    seen = [
        (found.in_flood, found.floods, found.flood_s)
        for at_s in (400, 779, 900)
        for found in [log.figures(T0 + at_s)]
    ]
    assert seen == [(True, 1, 100.0), (True, 1, 479.0), (False, 1, 480.0)]


def test_an_alarm_that_is_stamped_a_little_earlier_does_not_end_a_flood():
    story = Story()
    for n in range(11):
        story.raised(n * 1.0, f"PDAH-{100 + n}")
    story.raised(8.0, "PDAH-150")
    assert now(story, 20).in_flood


def test_a_clock_that_was_set_back_ends_what_was_counted_by_the_old_one():
    story = Story()
    for n in range(11):
        story.raised(n * 1.0, f"PDAH-{100 + n}")
    log = log_of(story, began_s=-2 * HOUR_S)
    assert not log.figures(T0 - HOUR_S).in_flood
    assert log.figures(T0 - HOUR_S).raised_day == 0  # they are still to come, by this clock


def test_a_chattering_alarm_is_told_for_a_day():
    story = Story()
    for n in range(3):
        story.pulse(n * 20.0, length_s=5.0)
    log = log_of(story)
    assert [log.figures(T0 + at_s).chattering for at_s in (60, HOUR_S, DAY_S, DAY_S + 60)] == [1, 1, 1, 0]


def test_a_stale_alarm_shows_until_it_goes():
    story = Story()
    story.raised(0)
    story.raised(0, "PDAL-102")
    log = log_of(story)
    assert [log.figures(T0 + at_s).stale for at_s in (DAY_S, DAY_S + 1)] == [0, 2]
    story.alarm(DAY_S + 2, "shelved", SHELVED, cause=Cause.PERSON)
    log.take(story.events[-1])
    assert log.figures(T0 + DAY_S + 3).stale == 1


def test_what_the_timer_cleared_unseen_and_how_long_answers_took_is_counted():
    story = Story()
    story.raised(0)
    story.latched(60)
    story.cleared(1860)
    for n, wait_s in enumerate((5, 10, 11, 100_000)):
        story.raised(2000, f"PDAL-10{n}")
        story.acknowledged(2000 + wait_s, f"PDAL-10{n}")
    found = now(story, 200_000)
    assert found.cleared_unseen == 1
    assert (found.acknowledge_count, found.acknowledge_sum_s) == (4, 100_026.0)
    # Up to and including the bound; the one of more than a day is in none.
    assert [found.acknowledge_buckets[bound] for bound in (10.0, 30.0, 86400.0)] == [2, 3, 3]


def test_after_a_restart_the_rates_go_on_and_the_counters_begin_anew():
    before = Story()
    for n in range(11):
        before.raised(n * 10.0, f"PDAH-{100 + n}")
    for n in range(3):
        before.pulse(n * 15.0, "PDAL-150", length_s=5.0)
    before.events.sort(key=lambda event: event.at_utc_s)
    found = now(Story(), 300, began_s=200.0, refill=before)
    assert (found.raised_10_min, found.in_flood, found.chattering) == (14, True, 1)
    assert (sum(found.raised.values()), found.floods) == (0, 0)
    assert found.flood_s == 100.0  # since the start
    assert now(Story(), 2 * DAY_S, began_s=200.0, refill=before).stale == 11


def test_an_answer_to_an_alarm_of_before_the_restart_is_an_answer():
    before = Story()
    before.raised(0)
    after = Story(states=dict(before.states), seen=dict(before.seen), raised_utc_s=dict(before.raised_utc_s))
    after.acknowledged(90)
    found = now(after, 100, began_s=50.0, refill=before)
    assert (found.acknowledge_count, found.acknowledge_sum_s) == (1, 90.0)


@settings(max_examples=100)
@given(st.lists(st.tuples(st.integers(0, 3000), st.integers(1, 4)), max_size=60))
def test_it_agrees_with_the_figures_over_the_same_period(pulses):
    story = Story()
    for at_s, alarm in pulses:
        story.pulse(at_s, f"PDAH-10{alarm}", length_s=0.0)
    story.events.sort(key=lambda event: event.at_utc_s)
    live, past = now(story, 4000), measure(story.events, span(0, 4000))
    assert sum(live.raised.values()) == live.raised_day == past.load.raised
    assert (live.floods, live.flood_s) == (len(past.load.floods), past.flood_s)
    assert live.chattering == len(past.nuisance.chattering)


def _size(log):
    chatter = log._chatter
    return len(log._tracks.standing), len(chatter._recent), len(chatter._last)


def test_memory_is_bounded_by_the_alarms_of_a_day_whatever_comes():
    log, story = AlarmLog(T0), Story()
    story.pulse(0)
    for number in range(30_000):
        for event in story.events:
            log.take(replace(event, tag=f"X-{number}", at_utc_s=T0 + number * 60.0))
    # 1,440 alarms a day; those of yesterday go when twice as many have come.
    assert max(_size(log)) <= 3 * 1440
    assert log.figures(T0 + 30_000 * 60).raised_day in (1439, 1440)  # to one step of a minute


def test_an_event_costs_microseconds_even_in_the_worst_storm():
    story = Story()
    for n in range(100):
        story.pulse(float(n), f"PDAH-{n}", length_s=0.5)
    log = AlarmLog(T0)
    began = time.process_time()
    for _again in range(300):
        for event in story.events:
            log.take(event)
    each_us = (time.process_time() - began) / (300 * len(story.events)) * 1e6
    print(f"an event costs the alarm log {each_us:.1f} µs", file=sys.stderr)
    # About 5 µs here; a bound that only a change of the order of growth can break.
    assert each_us < 100


def test_asking_does_not_change_what_is_told():
    story = Story()
    for n in range(12):
        story.raised(n * 5.0, f"PDAH-{100 + n}")
    log = log_of(story)
    assert log.figures(T0 + 500) == log.figures(T0 + 500)
    assert log.figures(T0 + 700).flood_s == pytest.approx(log_of(story).figures(T0 + 700).flood_s)
