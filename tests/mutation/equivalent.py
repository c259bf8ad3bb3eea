"""Equivalent: mutants that change nothing, each by name and with the reason why no test can tell it."""

from collections.abc import Mapping

_NO_VALUE = "the members are compared by identity; their values are written and read nowhere"

EQUIVALENT: Mapping[str, str] = {
    "alarm.Presence: 'present' → 'present?'": _NO_VALUE,
    "alarm.Presence: 'absent' → 'absent?'": _NO_VALUE,
    "alarm.Presence: 'blind' → 'blind?'": _NO_VALUE,
}
