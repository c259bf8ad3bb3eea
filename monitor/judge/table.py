"""Table: every way in which an alarm may change its state, and nothing else.

The states are those of ISA-18.2 / IEC 62682. A trigger that has no row for a state changes nothing. The code
runs from this table; ``rows`` hands it out whole, for whoever wants to check or draw it.

Theory of operation. The *condition* (DP at or beyond a set point, deadband applied) is not the *alarm*: the
condition must hold for the on-delay before RAISE, and be gone for the off-delay before RETURN. AUTO_CLEAR has
no row for an active state, so no timer can end an active alarm, whatever its settings.
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

#: In these the condition is (still) there.
ACTIVE = frozenset({_UNACK, _ACKED})

#: In these the process is back to normal and the alarm waits for a person or the timer.
WAITING = frozenset({_RETURNED, _LATCHED_UNACK, _LATCHED_ACKED})

#: In these nobody has answered yet.
UNANSWERED = frozenset({_UNACK, _RETURNED, _LATCHED_UNACK})

_BOTH: Mapping[tuple[AlarmState, Trigger], Row] = {
    (_NORMAL, Trigger.RAISE): Row(_UNACK, "raised", Cause.PROCESS),
    (_UNACK, Trigger.ACKNOWLEDGE): Row(_ACKED, "acknowledged", Cause.PERSON),
    (_RETURNED, Trigger.RAISE): Row(_UNACK, "raised", Cause.PROCESS),
    (_RETURNED, Trigger.ACKNOWLEDGE): Row(_NORMAL, "cleared", Cause.PERSON),
    (_RETURNED, Trigger.AUTO_CLEAR): Row(_NORMAL, "cleared", Cause.TIMER),
    (_LATCHED_UNACK, Trigger.RAISE): Row(_UNACK, "raised", Cause.PROCESS),
    (_LATCHED_UNACK, Trigger.ACKNOWLEDGE): Row(_LATCHED_ACKED, "acknowledged", Cause.PERSON),
    # The latch is undone, the answer is still owed: ISA-18.2 leads back to "returned, unacknowledged".
    (_LATCHED_UNACK, Trigger.CLEAR): Row(_RETURNED, "unlatched", Cause.PERSON),
    (_LATCHED_UNACK, Trigger.AUTO_CLEAR): Row(_NORMAL, "cleared", Cause.TIMER),
    (_LATCHED_ACKED, Trigger.RAISE): Row(_ACKED, "raised", Cause.PROCESS),
    (_LATCHED_ACKED, Trigger.CLEAR): Row(_NORMAL, "cleared", Cause.PERSON),
    (_LATCHED_ACKED, Trigger.AUTO_CLEAR): Row(_NORMAL, "cleared", Cause.TIMER),
}

_LATCHING: Mapping[tuple[AlarmState, Trigger], Row] = {
    (_UNACK, Trigger.RETURN): Row(_LATCHED_UNACK, "latched", Cause.PROCESS),
    (_ACKED, Trigger.RETURN): Row(_LATCHED_ACKED, "latched", Cause.PROCESS),
}

_NOT_LATCHING: Mapping[tuple[AlarmState, Trigger], Row] = {
    (_UNACK, Trigger.RETURN): Row(_RETURNED, "returned", Cause.PROCESS),
    (_ACKED, Trigger.RETURN): Row(_NORMAL, "cleared", Cause.PROCESS),
}


def look_up(state: AlarmState, trigger: Trigger, *, latching: bool) -> Row | None:
    """Return the row for this state and trigger, or None where the trigger changes nothing."""
    by_latch = _LATCHING if latching else _NOT_LATCHING
    return by_latch.get((state, trigger)) or _BOTH.get((state, trigger))


def rows() -> Iterator[tuple[AlarmState, Trigger, str, Row]]:
    """Every row, with ``"latching"``, ``"not latching"`` or ``""`` where it holds for both."""
    for kind, table in (("", _BOTH), ("latching", _LATCHING), ("not latching", _NOT_LATCHING)):
        for (state, trigger), row in table.items():
            yield state, trigger, kind, row
