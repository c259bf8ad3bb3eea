"""What a trigger makes of an alarm: state, stamps and notes, and the second step that a hold's end brings."""

from dataclasses import replace

import pytest

from monitor.judge.alarm import Alarm, Timer
from monitor.judge.moves import follow, move
from monitor.judge.settings import AlarmSettings
from monitor.judge.table import ACTIVE, HELD, Case, Trigger, rows
from monitor.words import AlarmState, Cause, Hold, HoldReason, Instant, Priority, Removal, Shelf

NORMAL, UNACK, ACKED = AlarmState.NORMAL, AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED
RETURNED = AlarmState.RETURNED_UNACKNOWLEDGED
LATCHED_UNACK, LATCHED_ACKED = AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED
SHELVED, SUPPRESSED, REMOVED = AlarmState.SHELVED, AlarmState.SUPPRESSED_BY_DESIGN, AlarmState.OUT_OF_SERVICE

CONF = AlarmSettings(
    tag="PDAH-101", priority=Priority.HIGH, on_delay_s=2.0, off_delay_s=1.0, latching=True, auto_clear_s=3.0
)
PLAIN = replace(CONF, latching=False)
UTC = 1_700_000_000.0
NOW = Instant(50.0, UTC + 50.0)
RAISED = UTC + 10.0
SHELF = Shelf(500.0, UTC + 500.0, "anna", "spare part is on its way", UTC + 40.0)
ANOTHER_SHELF = SHELF._replace(until_s=900.0)
REMOVAL = Removal("ben", "being rebuilt", UTC + 40.0)
FAN = Hold(HoldReason.FAN_STOPPED)
NOTES = {Trigger.SHELVE: ANOTHER_SHELF, Trigger.REMOVE: REMOVAL}


def alarm_in(state, *, stands=None, **more):
    """An alarm as it is in that state, condition and all."""
    stands = state in ACTIVE if stands is None else stands
    own = {SHELVED: {"shelf": SHELF}, REMOVED: {"removal": REMOVAL}, SUPPRESSED: {"hold": FAN}}.get(state, {})
    stamp = None if state is NORMAL else RAISED
    return Alarm(**({"state": state, "stands": stands, "present": stands, "raised_utc_s": stamp} | own | more))


@pytest.mark.parametrize(
    ("state", "trigger", "case", "row"), list(rows()), ids=[f"{row[0]}-{row[1]}-{row[2]}" for row in rows()]
)
def test_every_row_is_told_as_it_stands_in_the_table(state, trigger, case, row):
    kept = {Case.WAS_UNACKNOWLEDGED: UNACK, Case.WAS_ACKNOWLEDGED: ACKED}.get(case, NORMAL)
    conf = PLAIN if case is Case.NOT_LATCHING else CONF
    hold = (
        None if trigger is Trigger.RELEASE else FAN if state is SUPPRESSED or trigger is Trigger.SUPPRESS else None
    )
    before = alarm_in(state, kept=kept, hold=hold, stands=kept in ACTIVE or state in ACTIVE)

    _, fired = move(conf, before, trigger, NOW, NOTES.get(trigger))

    first = fired[0]
    assert (first.tag, first.before, first.at) == ("PDAH-101", state, NOW)
    assert (first.state, first.happened, first.cause) == row
    assert [one.before for one in fired[1:]] == [one.state for one in fired[:-1]]


@pytest.mark.parametrize("state", list(AlarmState))
def test_a_trigger_without_a_row_changes_nothing(state):
    before = alarm_in(state, seen=True, since_utc_s=UTC)
    allowed = {trigger for of, trigger, _, _ in rows() if of is state}

    for trigger in set(Trigger) - allowed:
        assert move(CONF, before, trigger, NOW, NOTES.get(trigger)) == (before, ())


@pytest.mark.parametrize("note", [None, REMOVAL, FAN])
def test_nothing_is_shelved_without_a_shelf(note):
    with pytest.raises(ValueError, match=r"^shelve of PDAH-101 without its shelf$"):
        move(CONF, alarm_in(UNACK), Trigger.SHELVE, NOW, note)


@pytest.mark.parametrize("note", [None, SHELF, FAN])
def test_nothing_is_taken_out_of_service_without_a_removal(note):
    with pytest.raises(ValueError, match=r"^remove_from_service of PDAH-101 without its removal$"):
        move(CONF, alarm_in(UNACK), Trigger.REMOVE, NOW, note)


def told(fired):
    return [(one.happened, one.state) for one in fired]


@pytest.mark.parametrize(
    ("state", "trigger", "happened"),
    [
        (SHELVED, Trigger.UNSHELVE, "unshelved"),
        (SHELVED, Trigger.SHELF_END, "unshelved"),
        (REMOVED, Trigger.RESTORE, "returned_to_service"),
    ],
)
class TestWhatComesOutOfAPersonsHold:
    def test_is_announced_anew_where_its_condition_stands(self, state, trigger, happened):
        after, fired = move(CONF, alarm_in(state, stands=True, seen=True), trigger, NOW)

        assert told(fired) == [(happened, NORMAL), ("raised", UNACK)]
        assert (after.state, after.stands, after.seen) == (UNACK, True, False)
        # It stood all the time: the same occurrence goes on.
        assert {one.raised_utc_s for one in fired} == {RAISED}
        assert after.raised_utc_s == RAISED

    def test_is_normal_where_its_condition_is_gone(self, state, trigger, happened):
        after, fired = move(CONF, alarm_in(state, stands=False, seen=True), trigger, NOW)

        assert told(fired) == [(happened, NORMAL)]
        assert (after.state, after.stands, after.raised_utc_s, after.seen) == (NORMAL, False, None, False)

    def test_goes_under_the_designs_hold_if_there_is_one(self, state, trigger, happened):
        after, fired = move(CONF, alarm_in(state, stands=True, hold=FAN), trigger, NOW)

        assert told(fired) == [(happened, NORMAL), ("suppressed", SUPPRESSED)]
        assert (after.state, after.kept, after.stands, after.hold) == (SUPPRESSED, NORMAL, True, FAN)
        assert fired[1].note == FAN

    def test_leaves_its_shelf_or_removal_behind_and_says_which(self, state, trigger, happened):
        after, (one,) = move(CONF, alarm_in(state), trigger, NOW)

        assert one.note == (SHELF if state is SHELVED else REMOVAL)
        assert after.shelf is after.removal is None


def release(conf, kept, *, stands, seen=False):
    before = alarm_in(SUPPRESSED, kept=kept, stands=stands, seen=seen, hold=None)
    return move(conf, before, Trigger.RELEASE, NOW, FAN)


def test_released_unacknowledged_and_still_there_it_is_as_it_was():
    after, fired = release(CONF, UNACK, stands=True)

    assert told(fired) == [("released", UNACK)]
    assert after.kept is NORMAL


def test_released_acknowledged_and_still_there_it_alarms_again():
    after, fired = release(CONF, ACKED, stands=True, seen=True)

    assert told(fired) == [("released", ACKED), ("raised", UNACK)]
    assert [one.seen for one in fired] == [True, False]
    assert not after.seen


@pytest.mark.parametrize(
    ("conf", "kept", "ends"),
    [
        (CONF, UNACK, ("latched", LATCHED_UNACK)),
        (CONF, ACKED, ("latched", LATCHED_ACKED)),
        (PLAIN, UNACK, ("returned", RETURNED)),
        (PLAIN, ACKED, ("cleared", NORMAL)),
    ],
)
def test_released_and_gone_meanwhile_it_returns_as_ever(conf, kept, ends):
    after, fired = release(conf, kept, stands=False)

    assert told(fired) == [("released", kept), ends]
    assert not after.stands


@pytest.mark.parametrize("stands", [True, False])
def test_released_normal_it_is_what_its_condition_is(stands):
    after, fired = release(CONF, NORMAL, stands=stands)

    assert told(fired) == [("released", NORMAL), ("raised", UNACK)][: 1 + stands]
    assert (after.state in ACTIVE) == stands


@pytest.mark.parametrize("stands", [True, False])
def test_what_a_release_ended_is_its_note(stands):
    _, fired = release(CONF, NORMAL, stands=stands)

    assert [one.note for one in fired] == [FAN, None][: 1 + stands]


@pytest.mark.parametrize("kept", [NORMAL, UNACK, ACKED])
def test_suppressed_it_keeps_what_it_was_and_its_occurrence(kept):
    before = alarm_in(kept, hold=FAN, seen=kept is ACKED)
    after, fired = move(CONF, before, Trigger.SUPPRESS, NOW, FAN)

    assert told(fired) == [("suppressed", SUPPRESSED)]
    assert (after.kept, after.hold, after.stands) == (kept, FAN, kept in ACTIVE)
    assert (after.raised_utc_s, after.seen) == (before.raised_utc_s, before.seen)


@pytest.mark.parametrize("state", [NORMAL, UNACK, ACKED])
def test_an_alarm_that_comes_under_a_hold_is_suppressed(state):
    after, fired = follow(CONF, alarm_in(state, hold=FAN), NOW)

    assert told(fired) == [("suppressed", SUPPRESSED)]
    assert fired[0].note == FAN
    assert after.kept is state


@pytest.mark.parametrize("state", [RETURNED, LATCHED_UNACK, LATCHED_ACKED, *HELD])
def test_what_waits_or_is_held_already_is_left_alone_under_a_hold(state):
    before = alarm_in(state, hold=FAN, stands=True)

    assert follow(CONF, before, NOW) == (before, ())


@pytest.mark.parametrize(
    ("state", "then"), [(RETURNED, UNACK), (LATCHED_UNACK, UNACK), (LATCHED_ACKED, ACKED), (NORMAL, UNACK)]
)
def test_what_is_free_again_and_stands_is_raised(state, then):
    after, fired = follow(CONF, alarm_in(state, stands=True), NOW)

    assert told(fired) == [("raised", then)]
    assert (after.stands, after.state) == (True, then)


@pytest.mark.parametrize("trigger", [Trigger.SHELVE, Trigger.REMOVE])
@pytest.mark.parametrize("kept", [UNACK, ACKED, NORMAL])
def test_from_under_a_design_hold_a_person_takes_it_into_theirs(trigger, kept):
    before = alarm_in(SUPPRESSED, kept=kept, stands=kept is not NORMAL)
    after, (one,) = move(CONF, before, trigger, NOW, NOTES[trigger])

    assert (after.kept, after.hold, after.state) == (NORMAL, FAN, one.state)
    assert after.seen
    assert one.note == NOTES[trigger]


def test_a_shelf_taken_out_of_service_leaves_the_shelf():
    after, (one,) = move(CONF, alarm_in(SHELVED), Trigger.REMOVE, NOW, REMOVAL)

    assert (after.shelf, after.removal, one.note) == (None, REMOVAL, REMOVAL)


@pytest.mark.parametrize("trigger", [Trigger.SHELVE, Trigger.REMOVE])
@pytest.mark.parametrize("stands", [True, False])
def test_what_is_put_aside_and_does_not_stand_is_over(trigger, stands):
    before = alarm_in(UNACK if stands else LATCHED_UNACK)
    after, (one,) = move(CONF, before, trigger, NOW, NOTES[trigger])

    assert after.raised_utc_s == (RAISED if stands else None)
    assert one.raised_utc_s == RAISED
    assert one.seen
    assert after.seen


@pytest.mark.parametrize(
    ("state", "trigger"),
    [
        (UNACK, Trigger.ACKNOWLEDGE),
        (RETURNED, Trigger.ACKNOWLEDGE),
        (LATCHED_UNACK, Trigger.ACKNOWLEDGE),
        (UNACK, Trigger.SHELVE),
        (UNACK, Trigger.REMOVE),
    ],
)
def test_whoever_answers_has_seen_it(state, trigger):
    _, fired = move(CONF, alarm_in(state), trigger, NOW, NOTES.get(trigger))

    assert fired[0].seen


@pytest.mark.parametrize(
    ("state", "trigger"),
    [(LATCHED_UNACK, Trigger.CLEAR), (LATCHED_UNACK, Trigger.AUTO_CLEAR), (UNACK, Trigger.RETURN)],
)
def test_whoever_does_not_answer_has_not(state, trigger):
    after, fired = move(CONF, alarm_in(state), trigger, NOW)

    assert not fired[0].seen
    assert not after.seen


def test_a_new_alarm_is_stamped_and_an_old_one_keeps_its_stamp():
    new, (first,) = move(CONF, alarm_in(NORMAL), Trigger.RAISE, NOW)
    old, (again,) = move(CONF, alarm_in(LATCHED_ACKED, seen=True), Trigger.RAISE, NOW)

    assert new.raised_utc_s == first.raised_utc_s == NOW.utc_s == new.since_utc_s
    assert old.raised_utc_s == again.raised_utc_s == RAISED
    assert old.seen
    assert old.since_utc_s == NOW.utc_s
    assert first.stands
    assert again.stands


@pytest.mark.parametrize("state", [RETURNED, LATCHED_UNACK, LATCHED_ACKED])
def test_what_is_cleared_is_over(state):
    after, (one,) = move(CONF, alarm_in(state, returned=Timer(3.0, 0.0), seen=True), Trigger.AUTO_CLEAR, NOW)

    assert one.cause is Cause.TIMER
    assert one.raised_utc_s == RAISED
    assert after == Alarm(since_utc_s=NOW.utc_s)


@pytest.mark.parametrize("blind", [False, True])
def test_the_time_since_the_return_begins_with_the_return_and_stands_still_for_the_blind(blind):
    after, _ = move(CONF, alarm_in(UNACK, blind=blind), Trigger.RETURN, NOW)
    acked, _ = move(CONF, replace(after, returned=Timer(2.0, 49.0)), Trigger.ACKNOWLEDGE, NOW)
    raised, _ = move(CONF, after, Trigger.RAISE, NOW)

    assert after.returned == Timer(0.0, None if blind else NOW.mono_s)
    # An answer does not begin it anew, and an alarm that is there again has none.
    assert acked.returned == Timer(2.0, 49.0)
    assert raised.returned is None
    assert (after.stands, after.blind) == (False, blind)


def test_a_delay_goes_on_where_it_is_still_owed_and_ends_where_it_is_not():
    counting = Timer(1.0, 49.0)
    going = alarm_in(UNACK, present=False, delay=counting, easing=Timer(1.0, 3.0))
    acked, _ = move(CONF, going, Trigger.ACKNOWLEDGE, NOW)
    gone, (one,) = move(CONF, going, Trigger.RETURN, NOW)

    assert (acked.delay, acked.easing, acked.present) == (counting, Timer(1.0, 3.0), False)
    assert (gone.delay, one.stands) == (None, False)


@pytest.mark.parametrize("note", [SHELF, REMOVAL])
def test_a_note_that_belongs_to_another_trigger_begins_nothing(note):
    after, _ = move(CONF, alarm_in(UNACK), Trigger.ACKNOWLEDGE, NOW, note)

    assert (after.shelf, after.removal) == (None, None)
