"""Table: every way in which an alarm may change its state, and nothing else.

The states are the nine of ISA-18.2 / IEC 62682. A trigger that has no row for a state changes nothing. The code
runs from this table; ``rows`` hands it out whole, for whoever wants to check or draw it.

Theory of operation. The *condition* (DP at or beyond a set point, deadband applied) is not the *alarm*: the
condition must hold for the on-delay before RAISE, and be gone for the off-delay before RETURN. AUTO_CLEAR has
no row for an active state, so no timer can end an active alarm, whatever its settings.

An alarm that is shelved, suppressed by design or out of service is *held*: its condition is followed all the
same, and announces nothing. A person's hold (shelf, out of service) begins in every state and leads back to
normal; a hold by design leads back to what was before, and leaves those alone that only wait for an answer: there
is nothing left to hold back, and nobody would see them. What comes out of a hold takes a second step at once
where the condition says so: RAISE or REALARM where it stands, RETURN where it is gone, SUPPRESS where a design
still holds it. So an alarm that stands at the end of its shelf is announced anew, and one that does not is not.
"""

from collections.abc import Iterator, Mapping
from enum import StrEnum
from typing import NamedTuple

from monitor.words import AlarmState, Cause


class Trigger(StrEnum):
    """What may move an alarm."""

    RAISE = "raise"
    RETURN = "return"
    ACKNOWLEDGE = "acknowledge"
    CLEAR = "clear"
    AUTO_CLEAR = "auto_clear"
    REALARM = "realarm"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    SHELF_END = "shelf_end"
    REMOVE = "remove_from_service"
    RESTORE = "return_to_service"
    SUPPRESS = "suppress"
    RELEASE = "release"


class Case(StrEnum):
    """What a row needs beside its state and trigger."""

    ALWAYS = ""
    LATCHING = "latching"
    NOT_LATCHING = "not latching"
    WAS_NORMAL = "was normal"
    WAS_UNACKNOWLEDGED = "was unacknowledged"
    WAS_ACKNOWLEDGED = "was acknowledged"


class Row(NamedTuple):
    """Where a trigger leads, what is said to have happened, and who or what did it."""

    state: AlarmState
    happened: str
    cause: Cause


_NORMAL = AlarmState.NORMAL
_UNACK = AlarmState.UNACKNOWLEDGED
_ACKED = AlarmState.ACKNOWLEDGED
_RETURNED = AlarmState.RETURNED_UNACKNOWLEDGED
_LATCHED_UNACK = AlarmState.LATCHED_UNACKNOWLEDGED
_LATCHED_ACKED = AlarmState.LATCHED_ACKNOWLEDGED
_SHELVED = AlarmState.SHELVED
_SUPPRESSED = AlarmState.SUPPRESSED_BY_DESIGN
_REMOVED = AlarmState.OUT_OF_SERVICE

#: In these the condition is (still) there.
ACTIVE = frozenset({_UNACK, _ACKED})

#: In these the process is back to normal and the alarm waits for a person or the timer.
WAITING = frozenset({_RETURNED, _LATCHED_UNACK, _LATCHED_ACKED})

#: In these nobody has answered yet.
UNANSWERED = frozenset({_UNACK, _RETURNED, _LATCHED_UNACK})

#: In these the alarm announces nothing, whatever its condition does.
HELD = frozenset({_SHELVED, _SUPPRESSED, _REMOVED})

_WAS: Mapping[AlarmState, Case] = {
    _NORMAL: Case.WAS_NORMAL,
    _UNACK: Case.WAS_UNACKNOWLEDGED,
    _ACKED: Case.WAS_ACKNOWLEDGED,
}

_Key = tuple[AlarmState, Trigger, Case]

_PROCESS_AND_PERSON: Mapping[_Key, Row] = {
    (_NORMAL, Trigger.RAISE, Case.ALWAYS): Row(_UNACK, "raised", Cause.PROCESS),
    (_UNACK, Trigger.ACKNOWLEDGE, Case.ALWAYS): Row(_ACKED, "acknowledged", Cause.PERSON),
    (_UNACK, Trigger.RETURN, Case.LATCHING): Row(_LATCHED_UNACK, "latched", Cause.PROCESS),
    (_UNACK, Trigger.RETURN, Case.NOT_LATCHING): Row(_RETURNED, "returned", Cause.PROCESS),
    (_ACKED, Trigger.RETURN, Case.LATCHING): Row(_LATCHED_ACKED, "latched", Cause.PROCESS),
    (_ACKED, Trigger.RETURN, Case.NOT_LATCHING): Row(_NORMAL, "cleared", Cause.PROCESS),
    (_ACKED, Trigger.REALARM, Case.ALWAYS): Row(_UNACK, "raised", Cause.PROCESS),
    (_RETURNED, Trigger.RAISE, Case.ALWAYS): Row(_UNACK, "raised", Cause.PROCESS),
    (_RETURNED, Trigger.ACKNOWLEDGE, Case.ALWAYS): Row(_NORMAL, "cleared", Cause.PERSON),
    (_RETURNED, Trigger.AUTO_CLEAR, Case.ALWAYS): Row(_NORMAL, "cleared", Cause.TIMER),
    (_LATCHED_UNACK, Trigger.RAISE, Case.ALWAYS): Row(_UNACK, "raised", Cause.PROCESS),
    (_LATCHED_UNACK, Trigger.ACKNOWLEDGE, Case.ALWAYS): Row(_LATCHED_ACKED, "acknowledged", Cause.PERSON),
    # The latch is undone, the answer is still owed: ISA-18.2 leads back to "returned, unacknowledged".
    (_LATCHED_UNACK, Trigger.CLEAR, Case.ALWAYS): Row(_RETURNED, "unlatched", Cause.PERSON),
    (_LATCHED_UNACK, Trigger.AUTO_CLEAR, Case.ALWAYS): Row(_NORMAL, "cleared", Cause.TIMER),
    (_LATCHED_ACKED, Trigger.RAISE, Case.ALWAYS): Row(_ACKED, "raised", Cause.PROCESS),
    (_LATCHED_ACKED, Trigger.CLEAR, Case.ALWAYS): Row(_NORMAL, "cleared", Cause.PERSON),
    (_LATCHED_ACKED, Trigger.AUTO_CLEAR, Case.ALWAYS): Row(_NORMAL, "cleared", Cause.TIMER),
}

_FREE = (_NORMAL, _UNACK, _ACKED, _RETURNED, _LATCHED_UNACK, _LATCHED_ACKED)

_TAKEN_OUT = Row(_REMOVED, "taken_out_of_service", Cause.PERSON)

_HOLDS: Mapping[_Key, Row] = {
    **{(state, Trigger.SHELVE, Case.ALWAYS): Row(_SHELVED, "shelved", Cause.PERSON) for state in _FREE},
    **{
        (state, Trigger.REMOVE, Case.ALWAYS): Row(_REMOVED, "taken_out_of_service", Cause.PERSON)
        for state in _FREE
    },
    **{(state, Trigger.SUPPRESS, Case.ALWAYS): Row(_SUPPRESSED, "suppressed", Cause.DESIGN) for state in _WAS},
    (_SHELVED, Trigger.UNSHELVE, Case.ALWAYS): Row(_NORMAL, "unshelved", Cause.PERSON),
    (_SHELVED, Trigger.SHELF_END, Case.ALWAYS): Row(_NORMAL, "unshelved", Cause.TIMER),
    (_SHELVED, Trigger.REMOVE, Case.ALWAYS): _TAKEN_OUT,
    (_SUPPRESSED, Trigger.SHELVE, Case.ALWAYS): Row(_SHELVED, "shelved", Cause.PERSON),
    (_SUPPRESSED, Trigger.REMOVE, Case.ALWAYS): _TAKEN_OUT,
    (_SUPPRESSED, Trigger.RELEASE, Case.WAS_NORMAL): Row(_NORMAL, "released", Cause.DESIGN),
    (_SUPPRESSED, Trigger.RELEASE, Case.WAS_UNACKNOWLEDGED): Row(_UNACK, "released", Cause.DESIGN),
    (_SUPPRESSED, Trigger.RELEASE, Case.WAS_ACKNOWLEDGED): Row(_ACKED, "released", Cause.DESIGN),
    (_REMOVED, Trigger.RESTORE, Case.ALWAYS): Row(_NORMAL, "returned_to_service", Cause.PERSON),
}

_TABLE: Mapping[_Key, Row] = {**_PROCESS_AND_PERSON, **_HOLDS}


def look_up(
    state: AlarmState, trigger: Trigger, *, latching: bool, kept: AlarmState = AlarmState.NORMAL
) -> Row | None:
    """Return the row for this state and trigger, or None where the trigger changes nothing.

    Args:
        state: the alarm's.
        trigger: what moves it.
        latching: whether it is a latching alarm.
        kept: what it was before it was suppressed by design.
    """
    latch = Case.LATCHING if latching else Case.NOT_LATCHING
    for case in (Case.ALWAYS, latch, _WAS[kept]):
        if (row := _TABLE.get((state, trigger, case))) is not None:
            return row
    return None


def rows() -> Iterator[tuple[AlarmState, Trigger, Case, Row]]:
    """Every row, with the case in which it holds."""
    for (state, trigger, case), row in _TABLE.items():
        yield state, trigger, case, row
