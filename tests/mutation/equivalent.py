"""Equivalent: mutants that change nothing, each by name and with the reason why no test can tell it."""

from collections.abc import Mapping

_NO_VALUE = "the members are compared by identity; their values are written and read nowhere"
_TYPED = "no alarm comes into that state with another note; the type checker wants it said"

EQUIVALENT: Mapping[str, str] = {
    "alarm.Presence: 'present' → 'present?'": _NO_VALUE,
    "alarm.Presence: 'absent' → 'absent?'": _NO_VALUE,
    "alarm.Presence: 'blind' → 'blind?'": _NO_VALUE,
    "moves._enter: isinstance(note, Shelf) and state is AlarmState.SHELVED → state is AlarmState.SHELVED": _TYPED,
    "moves._enter: isinstance(note, Removal) and state is AlarmState.OUT_OF_SERVICE → "
    "state is AlarmState.OUT_OF_SERVICE": _TYPED,
    "lifecycle._standing: not stands and alarm.state in HELD and (alarm.kept is AlarmState.NORMAL) → "
    "alarm.state in HELD and alarm.kept is AlarmState.NORMAL": "what begins to stand there has no stamp yet",
}
