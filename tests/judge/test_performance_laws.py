"""Performance: the quick counts against naive ones that look at every moment, over stories the table allows."""

import time

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.judge.performance.measuring import measure
from monitor.judge.performance.rates import chatter, floods, peak
from monitor.judge.performance.rolling import RollingCount
from monitor.judge.performance.span import DAY_S, HOUR_S, TEN_MINUTES_S, joined, periods_touched
from monitor.judge.table import ACTIVE, rows
from monitor.words import AlarmState, Cause, Event, EventKind, Priority
from tests.judge.story import NORMAL, T0, Story, span

STAMPS = st.lists(st.integers(0, 4000), max_size=60).map(sorted)


def _in_window(stamps, now, window):
    return sum(now - window < stamp <= now for stamp in stamps)


@given(STAMPS, st.integers(1, 1200))
def test_the_peak_is_the_most_that_any_moment_looks_back_on(stamps, window):
    assert peak(stamps, window).raised == max((_in_window(stamps, now, window) for now in stamps), default=0)


@given(STAMPS)
def test_floods_are_what_one_sees_who_counts_at_every_second(stamps):
    seen, since = [], None
    for now in range(5001):
        count = _in_window(stamps, now, TEN_MINUTES_S)
        if since is None and count > 10:
            since = now
        elif since is not None and count < 5:
            seen.append((since, now))
            since = None
    assert [(one.start_utc_s, one.end_utc_s) for one in floods(stamps, 1, 5000.0)] == seen


@given(STAMPS)
def test_a_raising_chatters_if_any_minute_holds_it_and_two_more(stamps):
    members = {
        stamps[n]
        for n in range(len(stamps))
        for first in range(max(0, n - 2), n + 1)
        if first + 2 < len(stamps) and stamps[first + 2] - stamps[first] < 60
    }
    assert chatter(stamps).stamps == members
    assert (chatter(stamps).bursts > 0) is bool(members)


@given(st.lists(st.tuples(st.integers(0, 200), st.integers(0, 60)), max_size=8))
def test_periods_touched_are_those_that_hold_a_watched_moment(parts):
    spans = joined(span(start, start + length) for start, length in parts)
    seconds = {second for start, length in parts for second in range(start, start + length)}
    assert periods_touched(spans, T0, 10.0) == len({second // 10 for second in seconds})
    assert sum(one.length_s for one in spans) == len(seconds)


@given(STAMPS, st.integers(0, 6000))
def test_a_rolling_count_is_exact_to_one_step(stamps, now):
    rolling = RollingCount(10.0, 60)
    for stamp in stamps:
        if stamp <= now:
            rolling.add(T0 + stamp)
    # A step is the ten seconds that its stamps fall into; the present one counts from its beginning.
    oldest = (T0 + now) // 10 * 10 - 590
    assert rolling.within(600.0, T0 + now) == sum(oldest <= T0 + stamp <= T0 + now for stamp in stamps)


MOVES = {}
for _state, _trigger, _case, _row in rows():
    MOVES.setdefault(_state, []).append(_row)


@st.composite
def stories(draw):
    """Three alarms that walk through the table at random, an event at most every hour, over five days."""
    story, at_h = Story(), 0
    story.started(0)
    for _ in range(draw(st.integers(0, 40))):
        at_h += draw(st.integers(1, 20))
        tag = draw(st.sampled_from(["PDAH-101", "PDAH-102", "PDAH-103"]))
        row = draw(st.sampled_from(MOVES[story.states.get(tag, NORMAL)]))
        story.alarm(at_h * HOUR_S, row.happened, row.state, tag, row.cause)
    return story


def _states_at(story, at_utc_s):
    return {event.tag: event.state for event in story.events if event.tag and event.at_utc_s <= at_utc_s}


@settings(max_examples=60)
@given(stories(), st.integers(0, 48), st.integers(1, 120))
def test_figures_are_what_one_counts_who_looks_every_half_hour(story, start_h, length_h):
    period = span(start_h * HOUR_S, (start_h + length_h) * HOUR_S)
    found = measure(story.events, period)
    inside = [event for event in story.events if period.holds(event.at_utc_s)]
    assert found.load.raised == sum(event.happened == "raised" for event in inside)
    looks = [(start_h + half / 2 + 0.25) * HOUR_S for half in range(2 * length_h)]
    held = dict.fromkeys(found.holds.times, 0.0)
    for look in looks:
        for state in _states_at(story, T0 + look).values():
            if state in held:
                held[state] += HOUR_S / 2
    assert {state: one.total_s for state, one in found.holds.times.items()} == held
    last = _states_at(story, T0 + looks[-1])
    assert {one.tag for one in found.nuisance.standing} == {tag for tag, state in last.items() if state in ACTIVE}
    assert {one.tag for one in found.holds.now} == {tag for tag, state in last.items() if state in held}


@settings(max_examples=60)
@given(stories(), st.integers(1, 4))
def test_the_worst_day_is_the_one_on_which_one_finds_the_most_alarms_over_a_day_old(story, days):
    period = span(DAY_S, (1 + days) * DAY_S)
    looks = [DAY_S * (1 + day) + (half / 2 + 0.25) * HOUR_S for day in range(days) for half in range(48)]
    stale: dict[int, set[str]] = {}
    for look in looks:
        for tag in ("PDAH-101", "PDAH-102", "PDAH-103"):
            moments = [0.25 * HOUR_S + step * HOUR_S / 2 for step in range(int(look // (HOUR_S / 2)) + 1)]
            ages = [_states_at_of(story, tag, T0 + at) in ACTIVE for at in moments[-49:]]
            if len(ages) == 49 and all(ages):
                stale.setdefault(int(look // DAY_S), set()).add(tag)
    found = measure(story.events, period).nuisance.stale_day
    assert (found.alarms if found else 0) == max(map(len, stale.values()), default=0)


def _states_at_of(story, tag, at_utc_s):
    return next(
        (one.state for one in reversed(story.events) if one.tag == tag and one.at_utc_s <= at_utc_s), NORMAL
    )


@given(stories(), st.integers(0, 60))
def test_events_after_the_period_change_nothing(story, end_h):
    period = span(0, (end_h + 1) * HOUR_S)
    before = [event for event in story.events if event.at_utc_s < period.end_utc_s]
    assert measure(story.events, period) == measure(before, period)


def test_a_million_events_take_seconds():
    cycle = (
        ("raised", NORMAL, AlarmState.UNACKNOWLEDGED, Cause.PROCESS),
        ("acknowledged", AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, Cause.PERSON),
        ("latched", AlarmState.ACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED, Cause.PROCESS),
        ("cleared", AlarmState.LATCHED_ACKNOWLEDGED, NORMAL, Cause.TIMER),
    )

    def events():
        for number in range(1_000_000):
            happened, before, state, cause = cycle[number // 300 % 4]
            yield Event(
                kind=EventKind.ALARM,
                happened=happened,
                at_utc_s=T0 + number * 2.5,
                text="",
                collector="DC-101",
                tag=f"PDAH-{number % 300}",
                priority=Priority.HIGH,
                state_before=before,
                state=state,
                cause=cause,
                seen=True,
            )

    began = time.process_time()
    found = measure(events(), span(0, 2_500_000))
    took_s = time.process_time() - began

    assert found.load.raised == 250_200
    print(f"a million events: {took_s:.1f} s, their making included")
    # About 6 s here; a bound that only a change of the order of growth can break.
    assert took_s < 60
