"""Retention: keeps both files within their bounds, a small batch at a time, the oldest first.

By age at most one batch a flush leaves, so a wall clock that is set years ahead for an hour does not empty the
history. By size it leaves as fast as it must. Freed pages are used again or given back to the file system.
"""

import sqlite3

from monitor.remember import history, journal
from monitor.remember.database import number, size_of_pages, transaction
from monitor.remember.settings import StoreSettings

#: Rows of history that leave in one transaction (about 5 ms on a small board).
BATCH_ROWS = 5_000
#: Free pages given back to the file system at once.
BATCH_PAGES = 128
#: Events that leave in one transaction.
BATCH_EVENTS = 1_000


def drop_old_history(connection: sqlite3.Connection, settings: StoreSettings, utc_s: float) -> int:
    """One batch of the rows that are past their age; how many left."""
    with transaction(connection, synced=False):
        return history.drop_oldest(connection, BATCH_ROWS, utc_s - settings.keep_history_s)


def drop_excess_history(connection: sqlite3.Connection, settings: StoreSettings) -> int:
    """One batch of the oldest rows if the file holds more than its bound; how many left."""
    free = number(connection, "PRAGMA freelist_count") * number(connection, "PRAGMA page_size")
    if size_of_pages(connection) - free <= settings.max_history_mb * 1_000_000:
        return 0
    return drop_oldest_history(connection)


def drop_oldest_history(connection: sqlite3.Connection) -> int:
    """One batch of the oldest rows, whatever their age; how many left."""
    with transaction(connection, synced=False):
        return history.drop_oldest(connection, BATCH_ROWS)


def give_back_pages(connection: sqlite3.Connection, keep: int = 2 * BATCH_PAGES) -> None:
    """Shorten the file by one batch if it has more free pages than it will soon use again."""
    if number(connection, "PRAGMA freelist_count") > keep:
        # As a script: as a single statement Python would step it once, for one page.
        connection.executescript(f"PRAGMA incremental_vacuum({BATCH_PAGES});")


def drop_excess_events(connection: sqlite3.Connection, excess: int) -> int:
    """One batch of the oldest events that every outlet has confirmed; how many left."""
    with transaction(connection, synced=False):
        return journal.drop_oldest(connection, min(excess, BATCH_EVENTS))
