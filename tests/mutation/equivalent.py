"""Equivalent: mutants that change nothing, each by name and with the reason why no test can tell it."""

from collections.abc import Mapping

_NO_VALUE = "the members are compared by identity; their values are written and read nowhere"
_TYPED = "no alarm comes into that state with another note; the type checker wants it said"

_NO_TIE = "what may be cleared by its timer is normal in sight, and then no delay is owed that could come first"

EQUIVALENT: Mapping[str, str] = {
    "lifecycle._next: clear_s < best[1] → clear_s <= best[1]": _NO_TIE,
    "lifecycle._next: best is None or clear_s < best[1] → best is None": _NO_TIE,
    "alarm.Presence: 'present' → 'present?'": _NO_VALUE,
    "alarm.Presence: 'absent' → 'absent?'": _NO_VALUE,
    "alarm.Presence: 'blind' → 'blind?'": _NO_VALUE,
    "moves._enter: isinstance(note, Shelf) and state is AlarmState.SHELVED → state is AlarmState.SHELVED": _TYPED,
    "moves._enter: isinstance(note, Removal) and state is AlarmState.OUT_OF_SERVICE → "
    "state is AlarmState.OUT_OF_SERVICE": _TYPED,
}
