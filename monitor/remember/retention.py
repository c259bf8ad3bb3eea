"""Retention: keeps both files within their bounds, a small batch at a time, the oldest first.

By age at most one batch a flush leaves, so a wall clock that is set years ahead for an hour does not empty the
history. By size it leaves as fast as it must. Freed pages are used again or given back to the file system.
"""

import math
import sqlite3
from collections.abc import Mapping
from typing import NamedTuple

from monitor.remember import history, journal
from monitor.remember.database import number, size_of_pages, transaction
from monitor.remember.settings import StoreSettings
from monitor.remember.tier import FLOOR_S, Tier

#: Rows of history that leave in one transaction (about 5 ms on a small board).
BATCH_ROWS = 5_000
#: Free pages given back to the file system at once.
BATCH_PAGES = 128
#: Events that leave in one transaction.
BATCH_EVENTS = 1_000


class Dropped(NamedTuple):
    """Rows that went, and from which tier; None where there was nothing to go."""

    tier: Tier | None
    rows: int


def drop_old_history(connection: sqlite3.Connection, settings: StoreSettings, utc_s: float) -> Mapping[Tier, int]:
    """One batch of each tier's rows that are past their age; how many left."""
    kept_s = {
        Tier.STEPS: settings.keep_history_s,
        Tier.MINUTES: settings.keep_minutes_s,
        Tier.HOURS: settings.keep_hours_s,
    }
    with transaction(connection, synced=False):
        return {
            tier: history.drop_oldest(connection, BATCH_ROWS, utc_s - keep_s, tier)
            for tier, keep_s in kept_s.items()
        }


def drop_excess_history(connection: sqlite3.Connection, settings: StoreSettings, utc_s: float) -> Dropped:
    """One batch of the oldest rows if the file holds more than its bound."""
    free = number(connection, "PRAGMA freelist_count") * number(connection, "PRAGMA page_size")
    if size_of_pages(connection) - free <= settings.max_history_mb * 1_000_000:
        return Dropped(None, 0)
    return drop_oldest_history(connection, utc_s)


def drop_oldest_history(connection: sqlite3.Connection, utc_s: float) -> Dropped:
    """One batch of the oldest rows of the tier whose turn it is.

    Steps go first, then minutes, and hours last; but the youngest steps and minutes (``FLOOR_S``) stay until the
    other has come down to its own floor.
    """
    turns = [(tier, utc_s - floor_s) for tier, floor_s in FLOOR_S.items()]
    turns += [(tier, math.inf) for tier in Tier]
    with transaction(connection, synced=False):
        for tier, before_utc_s in turns:
            rows = history.drop_oldest(connection, BATCH_ROWS, before_utc_s, tier)
            if rows:
                return Dropped(tier, rows)
    return Dropped(None, 0)


def give_back_pages(connection: sqlite3.Connection, keep: int = 2 * BATCH_PAGES) -> None:
    """Shorten the file by one batch if it has more free pages than it will soon use again."""
    if number(connection, "PRAGMA freelist_count") > keep:
        # As a script: as a single statement Python would step it once, for one page.
        connection.executescript(f"PRAGMA incremental_vacuum({BATCH_PAGES});")


def drop_excess_events(connection: sqlite3.Connection, excess: int) -> int:
    """One batch of the oldest events that every outlet has confirmed; how many left."""
    with transaction(connection, synced=False):
        return journal.drop_oldest(connection, min(excess, BATCH_EVENTS))
