"""Snapshot: texts that must survive, the scan second they belong to, and the name of this store.

What a text says and under which key is the daemon's business; the column is called ``collector`` for all that.
"""

import sqlite3
from collections.abc import Mapping
from uuid import uuid4


def begin(connection: sqlite3.Connection, instance_id: str | None = None, scan_s: float = 0.0) -> str:
    """Name a fresh file (or give it the name of the one it follows); the name it has from then on."""
    row = (instance_id or str(uuid4()), scan_s)
    connection.execute("INSERT OR IGNORE INTO about (one, instance_id, scan_s) VALUES (1, ?, ?)", row)
    return about(connection)[0]


def about(connection: sqlite3.Connection) -> tuple[str, float]:
    """The store's name and the scan second remembered."""
    instance_id, scan_s = connection.execute("SELECT instance_id, scan_s FROM about").fetchone()
    return str(instance_id), float(scan_s)


def states(connection: sqlite3.Connection) -> dict[str, str]:
    """Key → JSON text."""
    return dict(connection.execute("SELECT collector, state FROM snapshots ORDER BY collector"))


def keep(connection: sqlite3.Connection, states: Mapping[str, str], scan_s: float) -> None:
    """Write the texts that changed; an empty one forgets its key."""
    connection.execute("UPDATE about SET scan_s = max(scan_s, ?)", (scan_s,))
    changed = [(name, state) for name, state in states.items() if state]
    connection.executemany(
        "INSERT INTO snapshots (collector, state) VALUES (?, ?) "
        "ON CONFLICT (collector) DO UPDATE SET state = excluded.state",
        changed,
    )
    gone = [(name,) for name, state in states.items() if not state]
    connection.executemany("DELETE FROM snapshots WHERE collector = ?", gone)
