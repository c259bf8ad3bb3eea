"""One alarm's life, step by step: the examples a person would draw on paper."""

from dataclasses import replace

import pytest

from monitor.judge.alarm import Alarm, Presence
from monitor.judge.lifecycle import advance, command, hold, keep_promise
from monitor.judge.settings import AlarmSettings
from monitor.judge.table import Trigger
from monitor.words import AlarmState, Cause, Hold, HoldReason, Instant, Priority, Shelf

PRESENT, ABSENT, BLIND = Presence.PRESENT, Presence.ABSENT, Presence.BLIND
SETTINGS = AlarmSettings(
    tag="PDAH-101", priority=Priority.HIGH, on_delay_s=15.0, off_delay_s=5.0, latching=True, auto_clear_s=60.0
)


def at(mono_s):
    return Instant(mono_s, 1_700_000_000.0 + mono_s)


def live(settings, story):
    """Run (second, what is seen or done) pairs; return the alarm and all (second, happened, state)."""
    alarm, said = Alarm(), []
    for second, what in story:
        step = command if isinstance(what, Trigger) else advance
        alarm, fired = step(settings, alarm, what, at(second))
        said += [(one.at.mono_s, one.happened, one.state) for one in fired]
    return alarm, said


def test_the_whole_life_of_a_latching_alarm_that_nobody_saw():
    _, said = live(SETTINGS, [(0, ABSENT), (10, PRESENT), (40, ABSENT), (200, ABSENT)])

    assert said == [
        (25, "raised", AlarmState.UNACKNOWLEDGED),
        (45, "latched", AlarmState.LATCHED_UNACKNOWLEDGED),
        (105, "cleared", AlarmState.NORMAL),
    ]


def test_a_condition_shorter_than_the_on_delay_raises_nothing():
    _, said = live(SETTINGS, [(0, PRESENT), (14.9, ABSENT), (20, PRESENT), (34.9, ABSENT), (500, ABSENT)])

    assert said == []


def test_the_alarm_comes_at_exactly_its_on_delay_however_rarely_one_looks():
    _, said = live(SETTINGS, [(0, PRESENT), (1000, PRESENT)])

    assert said == [(15, "raised", AlarmState.UNACKNOWLEDGED)]


def test_an_active_alarm_outlives_any_auto_clear_time():
    alarm, said = live(replace(SETTINGS, auto_clear_s=0.0), [(0, PRESENT), (1_000_000, PRESENT)])

    assert alarm.state is AlarmState.UNACKNOWLEDGED
    assert len(said) == 1


def test_without_an_auto_clear_only_a_person_ends_a_latch():
    settings = replace(SETTINGS, auto_clear_s=None)
    alarm, _ = live(settings, [(0, PRESENT), (20, ABSENT), (10_000_000, ABSENT)])

    assert alarm.state is AlarmState.LATCHED_UNACKNOWLEDGED

    alarm, (fired,) = command(settings, alarm, Trigger.ACKNOWLEDGE, at(10_000_001))
    alarm, (cleared,) = command(settings, alarm, Trigger.CLEAR, at(10_000_002))

    assert fired.cause is cleared.cause is Cause.PERSON
    assert cleared.seen
    assert alarm.state is AlarmState.NORMAL


def test_clearing_an_active_alarm_is_refused():
    before, _ = live(SETTINGS, [(0, PRESENT), (20, PRESENT)])
    after, fired = command(SETTINGS, before, Trigger.CLEAR, at(21))

    assert after == before
    assert fired == ()


def test_a_not_latching_alarm_that_was_acknowledged_clears_with_the_process():
    settings = replace(SETTINGS, latching=False)
    _, said = live(settings, [(0, PRESENT), (20, Trigger.ACKNOWLEDGE), (30, ABSENT), (40, ABSENT)])

    assert said[-1] == (35, "cleared", AlarmState.NORMAL)


def test_a_not_latching_alarm_nobody_saw_waits_as_returned_until_the_timer():
    settings = replace(SETTINGS, latching=False)
    _, said = live(settings, [(0, PRESENT), (30, ABSENT), (500, ABSENT)])

    assert said[1:] == [
        (35, "returned", AlarmState.RETURNED_UNACKNOWLEDGED),
        (95, "cleared", AlarmState.NORMAL),
    ]


def test_blindness_holds_an_active_alarm_where_it_is():
    alarm, said = live(SETTINGS, [(0, PRESENT), (20, BLIND), (100_000, BLIND)])

    assert alarm.state is AlarmState.UNACKNOWLEDGED
    assert len(said) == 1


def test_a_latch_is_not_cleared_while_nobody_can_see_the_process():
    _, said = live(
        SETTINGS, [(0, PRESENT), (20, ABSENT), (35, BLIND), (10_000, BLIND), (10_001, ABSENT), (10_050, ABSENT)]
    )

    # Latched at 25, ten of the sixty seconds had passed at 35; the other fifty count from 10,001.
    assert said[1:] == [(25, "latched", AlarmState.LATCHED_UNACKNOWLEDGED)]

    alarm, _ = live(SETTINGS, [(0, PRESENT), (20, ABSENT), (35, BLIND), (10_001, ABSENT)])
    _, fired = advance(SETTINGS, alarm, ABSENT, at(10_051))
    assert [one.happened for one in fired] == ["cleared"]


def test_blindness_neither_restarts_nor_shortens_a_running_on_delay():
    _, said = live(SETTINGS, [(0, PRESENT), (10, BLIND), (100, PRESENT), (104, PRESENT), (106, PRESENT)])

    assert said == [(105, "raised", AlarmState.UNACKNOWLEDGED)]


def test_the_timer_waits_while_the_condition_is_back_and_its_on_delay_runs():
    _, said = live(SETTINGS, [(0, PRESENT), (20, ABSENT), (80, PRESENT), (94, ABSENT), (94.5, ABSENT)])

    # Latched at 25, so the sixty seconds are over at 85: in the middle of a new on-delay.
    assert said[1:] == [
        (25, "latched", AlarmState.LATCHED_UNACKNOWLEDGED),
        (94, "cleared", AlarmState.NORMAL),
    ]


def test_a_condition_that_comes_back_keeps_the_occurrence_and_needs_its_on_delay_again():
    alarm, said = live(SETTINGS, [(0, PRESENT), (20, ABSENT), (50, PRESENT), (70, PRESENT)])

    assert said[-1] == (65, "raised", AlarmState.UNACKNOWLEDGED)
    assert alarm.raised_utc_s == at(15).utc_s


@pytest.mark.parametrize("delay_s", [0.0, 1.0])
def test_a_clear_says_whether_anybody_had_acknowledged(delay_s):
    settings = replace(SETTINGS, on_delay_s=delay_s, off_delay_s=0.0, auto_clear_s=5.0)
    alarm, _ = live(settings, [(0, PRESENT), (2, PRESENT)])
    seen, _ = command(settings, alarm, Trigger.ACKNOWLEDGE, at(3))

    _, unseen_fired = advance(settings, advance(settings, alarm, ABSENT, at(4))[0], ABSENT, at(50))
    _, seen_fired = advance(settings, advance(settings, seen, ABSENT, at(4))[0], ABSENT, at(50))

    assert [one.seen for one in unseen_fired] == [False]
    assert [one.seen for one in seen_fired] == [True]


def test_a_second_life_begins_unseen():
    settings = replace(SETTINGS, on_delay_s=0.0, off_delay_s=0.0, latching=False)
    alarm, _ = live(settings, [(0, PRESENT), (1, Trigger.ACKNOWLEDGE), (2, ABSENT), (3, PRESENT)])

    assert alarm.state is AlarmState.UNACKNOWLEDGED
    assert not alarm.seen


BACK = replace(SETTINGS, counts_back=True)


def test_nothing_is_being_turned_back_while_the_condition_is_there():
    for story in ([(0, PRESENT), (5, BLIND), (6, PRESENT)], [(0, PRESENT), (5, ABSENT), (6, PRESENT)]):
        assert live(BACK, story)[0].easing is None


def test_an_off_delay_that_went_on_after_blindness_shortens_no_on_delay():
    story = [
        (0, PRESENT),
        (15, PRESENT),
        (20, ABSENT),
        (24.5, BLIND),
        (40, ABSENT),
        (40.5, PRESENT),
        (60, PRESENT),
    ]
    _, said = live(replace(BACK, latching=False), story)

    assert said[1:] == [
        (40.5, "returned", AlarmState.RETURNED_UNACKNOWLEDGED),
        (55.5, "raised", AlarmState.UNACKNOWLEDGED),
    ]


def test_what_was_being_turned_back_means_nothing_any_more_once_the_fan_stands():
    alarm, _ = live(BACK, [(0, PRESENT), (10, ABSENT)])
    held, _ = hold(BACK, alarm, Hold(HoldReason.FAN_STOPPED), at(11))

    assert alarm.easing is not None
    assert held.easing is None


def shelved(until_s):
    """Put aside at 0, by the clocks of ``at``."""
    shelf = Shelf(until_s, at(until_s).utc_s, "anna", "spare part is on its way", at(0).utc_s)
    return Alarm(state=AlarmState.SHELVED, shelf=shelf)


def test_a_start_without_a_shelf_has_no_promise_to_keep():
    assert keep_promise(Alarm(blind=True), at(100)) == Alarm(blind=True)


# Until 60 on both clocks; the daemon was away, so the scan clock stood still while the wall clock went on.
@pytest.mark.parametrize(
    ("mono_s", "utc_s", "until_s"),
    [
        (10.0, at(10).utc_s, 60.0),
        (10.0, at(40).utc_s, 30.0),
        (10.0, at(60).utc_s, 10.0),
        (10.0, at(500).utc_s, 10.0),
        # A wall clock that was set back makes no shelf longer.
        (10.0, at(-5000).utc_s, 60.0),
    ],
)
def test_after_a_start_a_shelf_ends_when_it_was_promised_and_never_later(mono_s, utc_s, until_s):
    before = shelved(60.0)
    after = keep_promise(before, Instant(mono_s, utc_s))

    assert after == replace(before, shelf=before.shelf._replace(until_s=until_s))
