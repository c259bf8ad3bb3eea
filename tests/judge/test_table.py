"""The table of transitions, held against the published lifecycle of ISA-18.2 / IEC 62682."""

import pytest

from monitor.judge.table import ACTIVE, HELD, UNANSWERED, WAITING, Trigger, look_up, rows
from monitor.words import AlarmState, Cause

NORMAL = AlarmState.NORMAL
UNACK = AlarmState.UNACKNOWLEDGED
ACKED = AlarmState.ACKNOWLEDGED
RETURNED = AlarmState.RETURNED_UNACKNOWLEDGED
LATCHED_UNACK = AlarmState.LATCHED_UNACKNOWLEDGED
LATCHED_ACKED = AlarmState.LATCHED_ACKNOWLEDGED

# ISA-18.2 state diagram (A normal, B unacknowledged, C acknowledged, D returned unacknowledged, E and F latched),
# from a published reproduction of its transition table; F→C on a returning condition is from course notes on it.
PUBLISHED = [
    ("A→B", NORMAL, Trigger.RAISE, False, UNACK),
    ("B→C", UNACK, Trigger.ACKNOWLEDGE, False, ACKED),
    ("C→A", ACKED, Trigger.RETURN, False, NORMAL),
    ("B→D", UNACK, Trigger.RETURN, False, RETURNED),
    ("D→A", RETURNED, Trigger.ACKNOWLEDGE, False, NORMAL),
    ("D→B", RETURNED, Trigger.RAISE, False, UNACK),
    ("B→E", UNACK, Trigger.RETURN, True, LATCHED_UNACK),
    ("C→F", ACKED, Trigger.RETURN, True, LATCHED_ACKED),
    ("E→F", LATCHED_UNACK, Trigger.ACKNOWLEDGE, True, LATCHED_ACKED),
    ("E→D", LATCHED_UNACK, Trigger.CLEAR, True, RETURNED),
    ("F→A", LATCHED_ACKED, Trigger.CLEAR, True, NORMAL),
    ("E→B", LATCHED_UNACK, Trigger.RAISE, True, UNACK),
    ("F→C", LATCHED_ACKED, Trigger.RAISE, True, ACKED),
]


@pytest.mark.parametrize(
    ("before", "trigger", "latching", "after"), [row[1:] for row in PUBLISHED], ids=[row[0] for row in PUBLISHED]
)
def test_every_published_transition_is_in_the_table(before, trigger, latching, after):
    row = look_up(before, trigger, latching=latching)

    assert row is not None
    assert row.state is after


FREE = [NORMAL, UNACK, ACKED, RETURNED, LATCHED_UNACK, LATCHED_ACKED]
SHELVED = AlarmState.SHELVED
SUPPRESSED = AlarmState.SUPPRESSED_BY_DESIGN
REMOVED = AlarmState.OUT_OF_SERVICE


# "any → shelved, out of service" and back; on leaving the condition is asked again (present: unacknowledged,
# else normal), which is the second step that monitor/judge/moves.py takes.
@pytest.mark.parametrize("state", [*FREE, SUPPRESSED])
def test_a_person_can_put_aside_or_take_out_of_service_from_every_state(state):
    assert look_up(state, Trigger.SHELVE, latching=True).state is SHELVED
    assert look_up(state, Trigger.REMOVE, latching=True).state is REMOVED


@pytest.mark.parametrize(
    ("state", "trigger"),
    [(SHELVED, Trigger.UNSHELVE), (SHELVED, Trigger.SHELF_END), (REMOVED, Trigger.RESTORE)],
)
def test_what_a_person_held_comes_back_as_normal_first(state, trigger):
    assert look_up(state, trigger, latching=False).state is NORMAL


@pytest.mark.parametrize("kept", [NORMAL, UNACK, ACKED])
def test_what_the_design_held_comes_back_as_it_was(kept):
    assert look_up(kept, Trigger.SUPPRESS, latching=True).state is SUPPRESSED
    assert look_up(SUPPRESSED, Trigger.RELEASE, latching=True, kept=kept).state is kept


def test_what_was_nothing_before_it_was_held_comes_back_as_normal():
    assert look_up(SUPPRESSED, Trigger.RELEASE, latching=True).state is NORMAL


@pytest.mark.parametrize("waiting", [RETURNED, LATCHED_UNACK, LATCHED_ACKED])
def test_the_design_hides_nothing_that_waits_for_an_answer(waiting):
    assert look_up(waiting, Trigger.SUPPRESS, latching=True) is None


def test_the_table_adds_only_the_timed_auto_clear_to_what_is_published():
    published = {(before, trigger, after) for _, before, trigger, _, after in PUBLISHED}
    published.add((ACKED, Trigger.REALARM, UNACK))  # C→B, "re-alarm"
    held = {SHELVED, SUPPRESSED, REMOVED}
    added = {
        (state, trigger, row.state) for state, trigger, _, row in rows() if not held & {state, row.state}
    } - published

    assert added == {
        (RETURNED, Trigger.AUTO_CLEAR, NORMAL),
        (LATCHED_UNACK, Trigger.AUTO_CLEAR, NORMAL),
        (LATCHED_ACKED, Trigger.AUTO_CLEAR, NORMAL),
    }


def test_no_row_lets_a_timer_end_an_active_alarm():
    timed = [(state, row) for state, trigger, _, row in rows() if row.cause is Cause.TIMER]

    assert timed
    assert all(state not in ACTIVE for state, _ in timed)


def test_only_a_person_acknowledges():
    assert {row.cause for _, trigger, _, row in rows() if trigger is Trigger.ACKNOWLEDGE} == {Cause.PERSON}


@pytest.mark.parametrize("latching", [True, False])
def test_a_person_cannot_clear_an_active_alarm(latching):
    assert all(look_up(state, Trigger.CLEAR, latching=latching) is None for state in ACTIVE)


@pytest.mark.parametrize("state", list(AlarmState))
def test_only_a_return_asks_whether_the_alarm_latches(state):
    for trigger in set(Trigger) - {Trigger.RETURN}:
        assert look_up(state, trigger, latching=True) == look_up(state, trigger, latching=False)


BROUGHT_BY = {
    Cause.PROCESS: {Trigger.RAISE, Trigger.RETURN, Trigger.REALARM},
    Cause.PERSON: {
        *(Trigger.ACKNOWLEDGE, Trigger.CLEAR, Trigger.SHELVE, Trigger.UNSHELVE, Trigger.REMOVE, Trigger.RESTORE),
    },
    Cause.TIMER: {Trigger.AUTO_CLEAR, Trigger.SHELF_END},
    Cause.DESIGN: {Trigger.SUPPRESS, Trigger.RELEASE},
}


def test_each_trigger_comes_from_where_it_says():
    brought = {}
    for _, trigger, _, row in rows():
        brought.setdefault(row.cause, set()).add(trigger)

    assert brought == BROUGHT_BY


#: What the journal calls it (words.Event), by trigger; where the alarm ends by it, it is "cleared".
CALLED = {
    Trigger.RAISE: {"raised"},
    Trigger.REALARM: {"raised"},
    Trigger.RETURN: {"returned", "latched", "cleared"},
    Trigger.ACKNOWLEDGE: {"acknowledged", "cleared"},
    Trigger.CLEAR: {"unlatched", "cleared"},
    Trigger.AUTO_CLEAR: {"cleared"},
    Trigger.SHELVE: {"shelved"},
    Trigger.UNSHELVE: {"unshelved"},
    Trigger.SHELF_END: {"unshelved"},
    Trigger.REMOVE: {"taken_out_of_service"},
    Trigger.RESTORE: {"returned_to_service"},
    Trigger.SUPPRESS: {"suppressed"},
    Trigger.RELEASE: {"released"},
}


def test_what_happened_is_called_by_its_name():
    called = {}
    for _, trigger, _, row in rows():
        called.setdefault(trigger, set()).add(row.happened)

    assert called == CALLED


def test_an_alarm_is_cleared_where_it_ends_and_nowhere_else():
    held = {SHELVED, SUPPRESSED, REMOVED}
    ends = {(state, trigger) for state, trigger, _, row in rows() if row.state is NORMAL and state not in held}

    assert ends == {(state, trigger) for state, trigger, _, row in rows() if row.happened == "cleared"}


@pytest.mark.parametrize(("state", "happened"), [(LATCHED_UNACK, "latched"), (RETURNED, "returned")])
def test_a_return_says_whether_the_alarm_latched(state, happened):
    assert look_up(UNACK, Trigger.RETURN, latching=state is LATCHED_UNACK).happened == happened


def test_a_latch_that_is_acknowledged_is_not_cleared():
    assert look_up(LATCHED_UNACK, Trigger.ACKNOWLEDGE, latching=True).happened == "acknowledged"
    assert look_up(LATCHED_UNACK, Trigger.CLEAR, latching=True).happened == "unlatched"
    assert look_up(LATCHED_ACKED, Trigger.CLEAR, latching=True).happened == "cleared"


# The nine states fall into these kinds; held ones show nothing of whether they are active.
def test_every_state_is_of_its_kinds():
    assert {UNACK, ACKED} == ACTIVE
    assert {RETURNED, LATCHED_UNACK, LATCHED_ACKED} == WAITING
    assert {UNACK, RETURNED, LATCHED_UNACK} == UNANSWERED
    assert {SHELVED, SUPPRESSED, REMOVED} == HELD


@pytest.mark.parametrize("state", [NORMAL, *ACTIVE, *WAITING, REMOVED])
def test_a_state_without_a_row_is_left_as_it_is(state):
    wrong = {Trigger.UNSHELVE, Trigger.SHELF_END, Trigger.RELEASE} | (
        {Trigger.SHELVE} if state is REMOVED else set()
    )

    assert [trigger for trigger in wrong if look_up(state, trigger, latching=True) is not None] == []


def test_a_release_without_a_memory_leads_to_normal():
    assert look_up(SUPPRESSED, Trigger.RELEASE, latching=True).state is NORMAL
