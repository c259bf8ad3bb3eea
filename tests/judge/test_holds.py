"""What holds an alarm back, how time passes meanwhile, and what is not vouched for between two readings."""

from dataclasses import replace
from math import inf

import pytest

from monitor.judge.alarm import Alarm, Presence, Timer
from monitor.judge.lifecycle import (
    advance,
    command,
    command_between,
    confirm,
    due_s,
    hold,
    hold_between,
    pass_time,
    pause,
    shelf_end_s,
)
from monitor.judge.settings import AlarmSettings
from monitor.judge.table import Trigger
from monitor.words import AlarmState, Cause, Hold, HoldReason, Instant, Priority, Removal, Shelf

PRESENT, ABSENT, BLIND = Presence.PRESENT, Presence.ABSENT, Presence.BLIND
NORMAL, UNACK, ACKED = AlarmState.NORMAL, AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED
LATCHED, SUPPRESSED = AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.SUPPRESSED_BY_DESIGN
SHELVED, REMOVED = AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE
FAN, START, UNDER = (
    Hold(HoldReason.FAN_STOPPED),
    Hold(HoldReason.START_UP),
    Hold(HoldReason.CONSEQUENCE, "PDAHH-101"),
)
REMOVAL = Removal("ben", "being rebuilt", 0.0)
CONF = AlarmSettings(
    tag="PDAH-101", priority=Priority.HIGH, on_delay_s=10.0, off_delay_s=4.0, latching=True, auto_clear_s=20.0
)


def at(mono_s):
    return Instant(float(mono_s), 1_700_000_000.0 + mono_s)


def shelf(until_s):
    return Shelf(float(until_s), 1_700_000_000.0 + until_s, "anna", "spare part is on its way", 0.0)


def lived(story, alarm=None, conf=CONF):
    """Live (second, what) pairs: what is seen, a hold, None for its end, or a trigger with its note."""
    alarm, said = alarm or Alarm(), []
    for second, what in story:
        if isinstance(what, Presence):
            alarm, fired = advance(conf, alarm, what, at(second))
        elif what is None or isinstance(what, Hold):
            alarm, fired = hold(conf, alarm, what, at(second))
        else:
            trigger, note = what if isinstance(what, tuple) else (what, None)
            alarm, fired = command(conf, alarm, trigger, at(second), note)
        said += [(one.at.mono_s, one.happened, one.state) for one in fired]
    return alarm, said


RAISED = [(0, PRESENT), (10, PRESENT)]


# ---------------------------------------------------------------- the design's holds


def test_what_is_explained_is_followed_and_not_announced():
    alarm, said = lived([(0, PRESENT), (5, UNDER), (30, PRESENT)])

    assert said == [(5, "suppressed", SUPPRESSED)]
    assert (alarm.stands, alarm.kept, alarm.raised_utc_s) == (True, NORMAL, None)


def test_what_was_explained_has_its_on_delay_before_it_is_told():
    _, said = lived([(0, PRESENT), (5, UNDER), (30, None), (39, PRESENT), (40, PRESENT)])

    assert said[1:] == [(30, "released", NORMAL), (40, "raised", UNACK)]


def test_what_was_told_before_is_told_as_it_stood():
    _, unanswered = lived([*RAISED, (12, UNDER), (30, None)])
    _, answered = lived([*RAISED, (11, Trigger.ACKNOWLEDGE), (12, UNDER), (30, None)])

    assert unanswered[1:] == [(12, "suppressed", SUPPRESSED), (30, "released", UNACK)]
    assert answered[2:] == [(12, "suppressed", SUPPRESSED), (30, "released", ACKED), (30, "raised", UNACK)]


def test_what_returns_under_its_cause_is_told_when_that_goes():
    alarm, said = lived([*RAISED, (12, UNDER), (13, ABSENT), (17, ABSENT), (40, None)])

    assert said[1:] == [(12, "suppressed", SUPPRESSED), (40, "released", UNACK), (40, "latched", LATCHED)]
    assert due_s(CONF, alarm) == 60.0


def test_a_return_that_is_not_over_when_the_hold_ends_takes_its_time():
    _, said = lived([*RAISED, (12, UNDER), (13, ABSENT), (15, None), (18, ABSENT)])

    assert said[2:] == [(15, "released", UNACK), (17, "latched", LATCHED)]


def test_while_the_fan_stands_nothing_counts():
    alarm, said = lived([(0, PRESENT), (8, FAN), (100, PRESENT)])

    assert said == [(8, "suppressed", SUPPRESSED)]
    assert (alarm.stands, alarm.delay, due_s(CONF, alarm)) == (False, None, inf)


def test_what_the_fan_held_back_begins_its_on_delay_with_the_fan():
    _, said = lived([(0, PRESENT), (8, FAN), (100, None), (109, PRESENT), (110, PRESENT)])

    assert said[1:] == [(100, "released", NORMAL), (110, "raised", UNACK)]


def test_what_comes_while_the_fan_stands_begins_its_on_delay_with_the_fan():
    _, said = lived([(0, FAN), (50, PRESENT), (100, None), (110, PRESENT)])

    assert said[-1] == (110, "raised", UNACK)


def test_a_condition_that_goes_while_it_means_nothing_has_gone_at_once():
    alarm, _ = lived([*RAISED, (12, FAN), (13, ABSENT)])

    assert (alarm.stands, alarm.delay) == (False, None)
    assert lived([(14, None)], alarm)[1] == [(14, "released", UNACK), (14, "latched", LATCHED)]


def test_a_return_that_was_being_counted_when_the_fan_stopped_is_over():
    alarm, _ = lived([*RAISED, (11, ABSENT), (12, FAN)])

    assert not alarm.stands
    assert alarm.delay is None


def test_what_stood_when_the_fan_stopped_stands_when_it_runs_again():
    alarm, said = lived([*RAISED, (12, FAN), (500, PRESENT), (501, None)])

    assert said[2:] == [(501, "released", UNACK)]
    assert alarm.stands
    assert alarm.raised_utc_s == at(10).utc_s


def test_another_hold_takes_the_place_of_the_first_without_a_word():
    alarm, said = lived([*RAISED, (12, FAN), (13, START), (14, UNDER), (15, UNDER)])

    assert said[1:] == [(12, "suppressed", SUPPRESSED)]
    assert (alarm.hold, alarm.kept, alarm.stands) == (UNDER, UNACK, True)


def test_under_a_cause_that_follows_on_a_stopped_fan_the_delay_begins():
    alarm, _ = lived([(0, PRESENT), (1, FAN), (50, UNDER)])

    assert due_s(CONF, alarm) == 60.0


def test_what_waits_for_an_answer_is_held_and_shown_at_once():
    alarm, said = lived([*RAISED, (11, ABSENT), (15, ABSENT), (16, FAN)])

    assert said[-1] == (15, "latched", LATCHED)
    assert (alarm.state, alarm.hold) == (LATCHED, FAN)


def test_what_comes_again_while_it_waits_under_a_hold_says_nothing_until_that_ends():
    held, said = lived([*RAISED, (11, ABSENT), (15, ABSENT), (16, UNDER), (17, PRESENT), (27, PRESENT)])
    _, after = lived([(30, None)], held)

    assert said[-1] == (15, "latched", LATCHED)
    assert held.stands
    assert after == []
    assert lived([(30, None), (40, PRESENT)], held)[1] == [(40, "raised", UNACK)]


def test_what_waits_is_cleared_by_its_timer_under_a_hold_too():
    _, said = lived([*RAISED, (11, ABSENT), (15, ABSENT), (16, UNDER), (40, ABSENT)])

    assert said[2:] == [(35, "cleared", NORMAL), (35, "suppressed", SUPPRESSED)]


def test_what_is_cleared_under_a_hold_is_suppressed_by_the_next_step():
    alarm, said = lived([*RAISED, (11, ABSENT), (16, FAN), (17, Trigger.ACKNOWLEDGE), (18, Trigger.CLEAR)])

    assert said[3:] == [(18, "cleared", NORMAL), (18, "suppressed", SUPPRESSED)]
    assert alarm.raised_utc_s is None


def test_a_timed_clear_does_not_count_while_the_condition_stood_under_a_hold():
    alarm, said = lived(
        [*RAISED, (11, ABSENT), (15, ABSENT), (16, UNDER), (20, PRESENT), (30, ABSENT), (34, ABSENT), (53, ABSENT)]
    )

    assert len(said) == 2
    assert due_s(CONF, alarm) == 54.0


def test_the_end_of_a_hold_that_is_none_says_nothing():
    alarm, _ = lived(RAISED)

    assert hold(CONF, alarm, None, at(12)) == (alarm, ())


def test_time_before_a_hold_counts_up_to_it():
    _, said = lived([(0, PRESENT), (11, FAN)])

    assert said == [(10, "raised", UNACK), (11, "suppressed", SUPPRESSED)]


def test_what_fell_due_unnoticed_before_its_cause_came_is_not_announced_but_stands():
    alarm, said = lived([(0, PRESENT), (11, UNDER)])

    assert said == [(11, "suppressed", SUPPRESSED)]
    assert (alarm.stands, alarm.kept) == (True, AlarmState.NORMAL)


def test_time_before_the_end_of_a_hold_counts_up_to_it():
    conf = replace(CONF, latching=False)
    alarm, _ = lived([*RAISED, (12, UNDER), (13, ABSENT)], conf=conf)
    _, said = lived([(30, None)], alarm, conf)

    assert said == [(30, "released", UNACK), (30, "returned", AlarmState.RETURNED_UNACKNOWLEDGED)]


# ---------------------------------------------------------------- shelves and out of service


def test_a_shelf_ends_at_its_moment_and_what_stands_is_announced_then():
    alarm, _ = lived([*RAISED, (11, (Trigger.SHELVE, shelf(50)))])
    after, fired = advance(CONF, alarm, PRESENT, at(80))

    assert shelf_end_s(alarm) == due_s(CONF, alarm) == 50.0
    assert [(one.at.mono_s, one.happened, one.cause) for one in fired] == [
        (50.0, "unshelved", Cause.TIMER),
        (50.0, "raised", Cause.PROCESS),
    ]
    assert fired[0].at == at(50)
    assert after.state is UNACK


def test_a_shelf_that_is_not_over_goes_on():
    alarm, said = lived([*RAISED, (11, (Trigger.SHELVE, shelf(50))), (49.9, PRESENT)])

    assert alarm.state is SHELVED
    assert said[-1] == (11, "shelved", SHELVED)


def test_under_a_shelf_the_condition_is_followed():
    alarm, said = lived([(0, PRESENT), (5, (Trigger.SHELVE, shelf(50))), (10, PRESENT)])
    gone, _ = lived([(11, ABSENT), (15, ABSENT)], alarm)

    assert alarm.stands
    assert [happened for _, happened, _ in said] == ["shelved"]
    assert not gone.stands
    assert lived([(50, ABSENT)], gone)[1] == [(50, "unshelved", NORMAL)]


def test_an_occurrence_that_ends_under_a_shelf_is_over():
    alarm, _ = lived([*RAISED, (11, (Trigger.SHELVE, shelf(50))), (12, ABSENT), (16, ABSENT)])
    again, said = lived([(20, PRESENT), (50, PRESENT)], alarm)

    assert alarm.raised_utc_s is None
    assert said == [(50, "unshelved", NORMAL), (50, "raised", UNACK)]
    assert again.raised_utc_s == at(50).utc_s


def test_a_design_hold_that_ends_under_a_shelf_leaves_what_stands_standing():
    alarm, _ = lived([*RAISED, (11, (Trigger.SHELVE, shelf(50))), (12, UNDER), (13, None)])

    assert (alarm.state, alarm.stands, alarm.hold) == (SHELVED, True, None)
    assert lived([(50, PRESENT)], alarm)[1][-1] == (50, "raised", UNACK)


def test_a_design_hold_that_ends_out_of_service_leaves_what_stands_standing():
    alarm, _ = lived([*RAISED, (11, (Trigger.REMOVE, REMOVAL)), (12, UNDER), (13, None)])

    assert (alarm.state, alarm.stands, alarm.hold) == (REMOVED, True, None)


def test_the_shelf_ends_before_what_falls_due_later_and_after_what_fell_due_earlier():
    late, _ = lived([(0, PRESENT), (1, (Trigger.SHELVE, shelf(8)))])
    early, _ = lived([(0, PRESENT), (1, (Trigger.SHELVE, shelf(12)))])

    assert lived([(20, PRESENT)], late)[1] == [(8, "unshelved", NORMAL), (10, "raised", UNACK)]
    assert lived([(20, PRESENT)], early)[1] == [(12, "unshelved", NORMAL), (12, "raised", UNACK)]


# ---------------------------------------------------------------- between two readings

WATCHED = Alarm(present=True, delay=Timer(0.0, 0.0))


def test_time_that_the_next_reading_vouches_for_counts_when_it_comes():
    _, (one,) = confirm(CONF, WATCHED, PRESENT, at(15), 0.0)

    assert (one.happened, one.at) == ("raised", at(15))


@pytest.mark.parametrize("seen", [ABSENT, BLIND])
def test_time_that_the_next_reading_denies_counts_for_nothing(seen):
    after, fired = confirm(CONF, WATCHED, seen, at(15), 3.0)

    assert fired == ()
    assert not after.stands
    assert after.delay == (Timer(3.0, None) if seen is BLIND else None)


def test_after_blindness_a_reading_speaks_for_itself_alone():
    after, fired = confirm(CONF, replace(WATCHED, blind=True, delay=Timer(9.0, None)), PRESENT, at(15), 0.0)

    assert fired == ()
    assert after.delay == Timer(9.0, 15.0)
    assert not after.blind


def test_a_person_between_two_readings_makes_nothing_fall_due():
    alarm, _ = lived([*RAISED, (11, ABSENT)])
    after, fired = command_between(CONF, alarm, Trigger.ACKNOWLEDGE, at(30), 11.0)

    assert [(one.happened, one.at) for one in fired] == [("acknowledged", at(30))]
    assert (after.state, after.delay, after.blind) == (ACKED, Timer(0.0, 11.0), False)
    assert confirm(CONF, after, ABSENT, at(31), 11.0)[1][0].happened == "latched"


def test_a_clock_that_begins_with_a_persons_command_counts_from_that_moment():
    standing = Alarm(state=SHELVED, stands=False, present=False, shelf=shelf(900), returned=None)
    unack = replace(standing, state=UNACK, stands=True, present=False, shelf=None, delay=Timer(1.0, 11.0))
    alarm, _ = hold_between(CONF, unack, FAN, at(15), 11.0)
    after, fired = hold_between(CONF, alarm, None, at(20), 11.0)

    # Gone while it meant nothing: latched when the hold ends, and its time of normal begins there.
    assert [one.happened for one in fired] == ["released", "latched"]
    assert after.returned.due_s(20.0) == 40.0


def test_what_is_released_between_two_readings_has_its_on_delay_from_that_moment():
    alarm, _ = hold_between(CONF, WATCHED, UNDER, at(5), 2.0)
    after, fired = hold_between(CONF, alarm, None, at(20), 18.0)

    assert [one.happened for one in fired] == ["released"]
    assert after.delay.due_s(10.0) == 30.0
    assert confirm(CONF, after, PRESENT, at(29), 18.0)[1] == ()
    assert confirm(CONF, after, PRESENT, at(30), 18.0)[1][0].happened == "raised"


def test_a_hold_between_two_readings_leaves_the_counts_that_still_mean_something():
    after, fired = hold_between(CONF, WATCHED, UNDER, at(15), 3.0)

    assert [one.happened for one in fired] == ["suppressed"]
    assert (after.delay, after.blind, after.stands) == (Timer(3.0, 3.0), False, False)


def test_the_fan_that_stops_between_two_readings_ends_every_count():
    assert hold_between(CONF, WATCHED, FAN, at(15), 3.0)[0].delay is None


@pytest.mark.parametrize("blind", [True, False])
def test_between_two_readings_the_blind_stay_blind(blind):
    before = replace(WATCHED, blind=blind, delay=Timer(2.0, None if blind else 0.0))
    after, _ = hold_between(CONF, before, UNDER, at(15), 3.0)

    assert after.blind is blind
    assert after.delay == (Timer(2.0, None) if blind else Timer(5.0, 3.0))


def test_a_clock_that_begins_for_the_blind_has_counted_nothing():
    before = Alarm(state=UNACK, stands=True, present=False, blind=True, hold=FAN, kept=NORMAL)
    gone = replace(before, state=SUPPRESSED, kept=UNACK, stands=False)
    after, fired = hold_between(CONF, gone, None, at(15), 3.0)

    assert [one.happened for one in fired] == ["released", "latched"]
    assert after.returned == Timer(0.0, None)


def test_time_alone_ends_a_shelf_and_nothing_else():
    alarm, _ = lived([(0, PRESENT), (1, (Trigger.SHELVE, shelf(50)))])
    early, none = pass_time(CONF, alarm, at(49.9), 1.0)
    after, fired = pass_time(CONF, alarm, at(50), 1.0)

    assert (early, none) == (alarm, ())
    assert [(one.happened, one.at) for one in fired] == [("unshelved", at(50))]
    # Its on-delay would have been over by then, if anything had been read since.
    assert (after.state, after.delay) == (NORMAL, Timer(1.0, 1.0))


def test_time_alone_passes_over_an_alarm_that_is_not_shelved():
    assert pass_time(CONF, WATCHED, at(10_000), 0.0) == (WATCHED, ())
    assert shelf_end_s(WATCHED) == inf


# ---------------------------------------------------------------- clocks that stand still or turn back


def test_a_pause_keeps_what_was_counted():
    still = pause(replace(WATCHED, returned=Timer(3.0, 2.0)), 6.0)

    assert (still.blind, still.delay, still.returned) == (True, Timer(6.0, None), Timer(7.0, None))
    assert pause(still, 60.0) == still


def test_a_clock_that_began_after_the_pause_has_counted_nothing():
    still = pause(replace(WATCHED, delay=Timer(0.0, 9.0), returned=Timer(0.0, 9.0)), 6.0)

    assert (still.delay, still.returned) == (Timer(0.0, None), Timer(0.0, None))


BACK = replace(CONF, counts_back=True)


def test_a_count_is_turned_back_at_the_same_pace_while_the_condition_is_gone():
    _, said = lived([(0, PRESENT), (8, ABSENT), (11, PRESENT), (15.9, PRESENT), (16, PRESENT)], conf=BACK)

    assert said == [(16, "raised", UNACK)]


def test_a_count_is_turned_back_to_nothing_and_no_further():
    _, said = lived([(0, PRESENT), (3, ABSENT), (100, PRESENT), (109, PRESENT), (110, PRESENT)], conf=BACK)

    assert said == [(110, "raised", UNACK)]


def test_a_count_that_is_being_turned_back_stands_still_for_the_blind():
    _, said = lived([(0, PRESENT), (8, ABSENT), (9, BLIND), (50, ABSENT), (51, PRESENT), (55, PRESENT)], conf=BACK)
    _, straight = lived([(0, PRESENT), (8, ABSENT), (9, BLIND), (50, PRESENT), (53, PRESENT)], conf=BACK)

    assert said == [(55, "raised", UNACK)]
    assert straight == [(53, "raised", UNACK)]


def test_without_counting_back_each_dip_begins_the_count_anew():
    _, said = lived([(0, PRESENT), (8, ABSENT), (8.5, PRESENT), (18, PRESENT), (18.5, PRESENT)])

    assert said == [(18.5, "raised", UNACK)]


def test_only_an_on_delay_is_turned_back():
    _, said = lived([*RAISED, (11, ABSENT), (14, PRESENT), (15, ABSENT), (18.9, ABSENT)], conf=BACK)

    assert [happened for _, happened, _ in said] == ["raised"]


def test_what_was_counted_before_the_fan_stopped_is_forgotten():
    _, said = lived([(0, PRESENT), (8, ABSENT), (8, FAN), (9, None), (9, PRESENT), (18.9, PRESENT)], conf=BACK)

    assert "raised" not in [happened for _, happened, _ in said]
