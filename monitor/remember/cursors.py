"""Cursors: how far each outlet has confirmed the journal, and which events it had to leave undelivered."""

import sqlite3
from collections.abc import Iterable, Mapping
from typing import NamedTuple

#: The record of undeliverable events is itself bounded; the oldest go.
MAX_SET_ASIDE = 1_000


class SetAside(NamedTuple):
    """One event that one outlet could not deliver, and why."""

    outlet: str
    seq: int
    at_utc_s: float
    why: str


def name_outlets(connection: sqlite3.Connection, outlets: Iterable[str], end: int) -> None:
    """Keep a cursor for exactly these outlets.

    A new one starts at the journal's end: who adds a broker today is not told last year's alarms. One that is
    no longer named is forgotten, for it would hold every event for ever.
    """
    wanted = set(outlets)
    gone = [(outlet,) for outlet in positions(connection) if outlet not in wanted]
    connection.executemany("DELETE FROM cursors WHERE outlet = ?", gone)
    fresh = [(outlet, end) for outlet in sorted(wanted)]
    connection.executemany("INSERT OR IGNORE INTO cursors (outlet, seq) VALUES (?, ?)", fresh)


def restore(connection: sqlite3.Connection, positions: Mapping[str, int]) -> None:
    """Give a fresh file the cursors of its predecessor; those that are there already stay."""
    connection.executemany("INSERT OR IGNORE INTO cursors (outlet, seq) VALUES (?, ?)", list(positions.items()))


def positions(connection: sqlite3.Connection) -> dict[str, int]:
    """Outlet → the last event it confirmed."""
    return dict(connection.execute("SELECT outlet, seq FROM cursors"))


def move(connection: sqlite3.Connection, positions: Mapping[str, int]) -> None:
    """Move cursors on; one that already stands further stays where it is."""
    connection.executemany(
        "UPDATE cursors SET seq = ? WHERE outlet = ? AND seq < ?",
        [(seq, outlet, seq) for outlet, seq in positions.items()],
    )


def record(connection: sqlite3.Connection, left: Iterable[SetAside]) -> None:
    """Write down what was left undelivered."""
    connection.executemany("INSERT OR REPLACE INTO set_aside_events VALUES (?, ?, ?, ?)", left)
    connection.execute(
        "DELETE FROM set_aside_events WHERE at_utc_s < (SELECT min(at_utc_s) FROM "
        "(SELECT at_utc_s FROM set_aside_events ORDER BY at_utc_s DESC LIMIT ?))",
        (MAX_SET_ASIDE,),
    )
