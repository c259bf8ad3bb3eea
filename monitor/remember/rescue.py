"""Rescue: what can still be read out of a damaged journal before it is set aside.

Every part is tried for itself: a broken page in the events must not cost a latched alarm.
"""

import json
import sqlite3
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from monitor.remember import cursors, database, journal, snapshot
from monitor.words import Event

#: Most untold events that are looked for.
MAX_EVENTS = 10_000


@dataclass(slots=True)
class Rescued:
    """What the fresh file is given."""

    instance_id: str | None = None
    scan_s: float = 0.0
    states: dict[str, str] = field(default_factory=dict)
    positions: dict[str, int] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)


def rescue(path: Path) -> Rescued:
    """Read what can be read; a file beyond reading gives nothing, and no error."""
    with suppress(sqlite3.Error):
        connection = sqlite3.connect(path, timeout=database.BUSY_TIMEOUT_S, isolation_level=None)
        connection.text_factory = database.lenient_text
        try:
            return read(connection)
        finally:
            database.close_quietly(connection)
    return Rescued()


def read(connection: sqlite3.Connection) -> Rescued:
    """The same, from a connection that is open."""
    found = Rescued()
    with suppress(*_UNREADABLE):
        found.instance_id, found.scan_s = snapshot.about(connection)
    with suppress(*_UNREADABLE):
        found.states = {name: state for name, state in snapshot.states(connection).items() if _is_json(state)}
    with suppress(*_UNREADABLE):
        found.positions = cursors.positions(connection)
        found.events = _untold(connection, min(found.positions.values(), default=0)) if found.positions else []
    return found


def _is_json(text: str) -> bool:
    with suppress(ValueError):
        json.loads(text)
        return True
    return False


def _untold(connection: sqlite3.Connection, told: int) -> list[Event]:
    events: dict[int, Event] = {}
    last = min(journal.last_seq(connection), told + MAX_EVENTS)
    for seq in range(told, last):
        with suppress(*_UNREADABLE):
            events |= {event.seq: event for event in journal.after(connection, seq, 1)}
    return [events[seq] for seq in sorted(events) if events[seq].happened != journal.UNREADABLE]


#: What reading a damaged file raises: SQLite's own errors, or values that are not what they should be.
_UNREADABLE = (sqlite3.Error, TypeError, ValueError)
