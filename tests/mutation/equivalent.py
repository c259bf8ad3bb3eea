"""Equivalent: mutants that change nothing, each by name and with the reason why no test can tell it."""

from collections.abc import Mapping

_NO_VALUE = "the members are compared by identity; their values are written and read nowhere"

EQUIVALENT: Mapping[str, str] = {
    "alarm.Presence: 'present' → 'present?'": _NO_VALUE,
    "alarm.Presence: 'absent' → 'absent?'": _NO_VALUE,
    "alarm.Presence: 'blind' → 'blind?'": _NO_VALUE,
    "alarm.Transition: False → True": "the one place that makes transitions always says whether the condition stands",
    "moves.move: trigger is Trigger.RELEASE and alarm.state is AlarmState.ACKNOWLEDGED and alarm.stands → "
    "trigger is Trigger.RELEASE and alarm.stands": "the table has a row for REALARM in ACKNOWLEDGED alone",
}
