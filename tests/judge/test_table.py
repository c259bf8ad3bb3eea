"""The table of transitions, held against the published lifecycle of ISA-18.2 / IEC 62682."""

import pytest

from monitor.judge.table import ACTIVE, Trigger, look_up, rows
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
