"""Web alarms: which alarms a query asks for, and the list of them as JSON."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from monitor.judge.table import HELD
from monitor.words import AlarmState

#: One alarm, as the payloads write it; ``state`` is looked at here, the rest is handed on.
AlarmPayload = Mapping[str, Any]

_JSON = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False, allow_nan=False)
_YES_NO = {"yes": True, "no": False}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a query asks for.

    Attributes:
        states: any of these.
    """

    states: frozenset[AlarmState] = frozenset(AlarmState)

    def has(self, alarm: AlarmPayload) -> bool:
        """Whether it asks for this one."""
        return alarm["state"] in self.states


def wanted(query: Iterable[tuple[str, str]]) -> Wanted:
    """What ``state=…`` (more than one counts as any of them) and ``held=yes|no`` ask for; all without them.

    Raises:
        ValueError: a sentence about what cannot be read.
    """
    named: set[AlarmState] = set()
    states = frozenset(AlarmState)
    for key, value in query:
        if key == "state" and value in set(AlarmState):
            named.add(AlarmState(value))
        elif key == "held" and value in _YES_NO:
            states = states & HELD if _YES_NO[value] else states - HELD
        else:
            raise ValueError(_complaint(key))
    return Wanted(states=states & named if named else states)


def write_alarms(alarms: Iterable[AlarmPayload], which: Wanted) -> bytes:
    """Those that are asked for, as JSON in UTF-8, in the order given."""
    listed = [alarm for alarm in alarms if which.has(alarm)]
    return _JSON.encode({"alarms": listed}).encode("utf-8", "replace")


def _complaint(key: str) -> str:
    if key == "state":
        return f"state must be one of {', '.join(state.value for state in AlarmState)}"
    if key == "held":
        return "held must be yes or no"
    return "alarms are asked for by state=… and held=yes or no, and by nothing else"
