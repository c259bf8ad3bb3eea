"""Journal: what happened, in the order of ``seq``; rows are added at the end and never changed.

An event is stored as JSON of every field that is not at its default, so a field added later needs no migration.
"""

import json
import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import MISSING, fields
from typing import Any

from monitor.troubles import Clue, Suspicion, Trouble
from monitor.words import AlarmState, Cause, Event, EventKind, Priority

#: What an event that could not be read back says that it is.
UNREADABLE = "unreadable"

_ENUMS: Mapping[str, Callable[[str], object]] = {
    "kind": EventKind,
    "priority": Priority,
    "state_before": AlarmState,
    "state": AlarmState,
    "cause": Cause,
}


def _suspicions(rows: Iterable[Sequence[Any]]) -> tuple[Suspicion, ...]:
    return tuple(
        Suspicion(Trouble(trouble), share, *(tuple(Clue(*clue) for clue in clues) for clues in more[:2]))
        for trouble, share, *more in rows
    )


_MADE: Mapping[str, Callable[[Any], object]] = {**_ENUMS, "suspicions": _suspicions}
_COLUMNS = frozenset({"seq", "event_id", "at_utc_s"})
_DEFAULTS = {
    each.name: None if each.default is MISSING else each.default
    for each in fields(Event)
    if each.name not in _COLUMNS
}
_SELECT = "SELECT seq, event_id, at_utc_s, body FROM journal"


def encode(event: Event) -> str:
    """The body of the event's row; ASCII, so that no text can be refused by the file."""
    values = {name: getattr(event, name) for name in _DEFAULTS}
    kept = {name: value for name, value in values.items() if value is not None and value != _DEFAULTS[name]}
    if not kept["facts"]:
        del kept["facts"]
    return json.dumps(kept, default=_plain, separators=(",", ":"))


def _plain(value: object) -> object:
    return dict(value) if isinstance(value, Mapping) else str(value)


def decode(seq: int, event_id: str, at_utc_s: float, body: str) -> Event:
    """The event of a row. A row that cannot be read still gives one, for an outlet must get past it."""
    try:
        known: dict[str, Any] = {name: _value(name, value) for name, value in json.loads(body).items()}
        known = {name: value for name, value in known.items() if name in _DEFAULTS}
        return Event(seq=seq, event_id=event_id, at_utc_s=at_utc_s, **known)
    except (ValueError, TypeError, AttributeError):
        return Event(
            kind=EventKind.SYSTEM,
            happened=UNREADABLE,
            at_utc_s=at_utc_s,
            text="An event could not be read back from the journal.",
            event_id=event_id,
            seq=seq,
        )


def _value(name: str, value: Any) -> Any:
    make = _MADE.get(name)
    return value if make is None else make(value)


def add(connection: sqlite3.Connection, events: Iterable[Event]) -> None:
    """Add stamped events after the last one; call it inside a transaction."""
    rows = [(event.seq, event.event_id, event.at_utc_s, _clean(event.tag), encode(event)) for event in events]
    connection.executemany("INSERT INTO journal (seq, event_id, at_utc_s, tag, body) VALUES (?,?,?,?,?)", rows)


def _clean(tag: str | None) -> str | None:
    return None if tag is None else tag.encode("utf-8", "replace").decode("utf-8")


def after(connection: sqlite3.Connection, seq: int, limit: int) -> list[Event]:
    """Up to ``limit`` events that follow ``seq``, in order."""
    rows = connection.execute(f"{_SELECT} WHERE seq > ? ORDER BY seq LIMIT ?", (seq, limit))
    return [decode(*row) for row in rows]


def latest(connection: sqlite3.Connection, count: int, tag: str | None) -> list[Event]:
    """The last ``count`` events, of one tag or of all, oldest first."""
    where, wanted = ("", ()) if tag is None else (" WHERE tag = ?", (_clean(tag),))
    rows = connection.execute(f"{_SELECT}{where} ORDER BY seq DESC LIMIT ?", (*wanted, count)).fetchall()
    return [decode(*row) for row in reversed(rows)]


def stamps_after(connection: sqlite3.Connection, seq: int) -> list[tuple[int, float]]:
    """Sequence number and Unix seconds of every event that follows ``seq``, in order."""
    return connection.execute("SELECT seq, at_utc_s FROM journal WHERE seq > ? ORDER BY seq", (seq,)).fetchall()


def last_seq(connection: sqlite3.Connection) -> int:
    """The highest number ever given, 0 for none: a cursor may stand on an event that a full disk lost."""
    question = (
        "SELECT max((SELECT coalesce(max(seq), 0) FROM journal), (SELECT coalesce(max(seq), 0) FROM cursors))"
    )
    return int(connection.execute(question).fetchone()[0])


def drop_oldest(connection: sqlite3.Connection, count: int) -> int:
    """Delete up to ``count`` of the oldest events; how many went. The file refuses the unconfirmed."""
    return connection.execute(_DROP, (_NO_END, count)).rowcount


_DROP = """
DELETE FROM journal WHERE seq IN (
    SELECT seq FROM journal WHERE seq <= (SELECT coalesce(min(seq), ?) FROM cursors) ORDER BY seq LIMIT ?
)
"""
_NO_END = 2**62


def seq_of_oldest(connection: sqlite3.Connection, place: int) -> int:
    """The number of the event that stands at this place, counted from the oldest as 0."""
    asked = connection.execute("SELECT seq FROM journal ORDER BY seq LIMIT 1 OFFSET ?", (place,))
    return int(asked.fetchone()[0])
