"""History file: finished rows go in together, the oldest go out; broken, it is set aside and begun anew.

It is a file of its own: nothing that happens to the bulk of the readings can cost an alarm, and its bound in
megabytes is simply the size of a file. Used by one thread at a time, as the journal file.
"""

import sqlite3
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from monitor.errors import StoreError
from monitor.remember import database, disk, gathering, history, retention, tier_reading, tiers
from monitor.remember.numbering import Numbered
from monitor.remember.settings import StoreSettings
from monitor.remember.thinning import PointRow
from monitor.remember.tier import Tier
from monitor.remember.tier_reading import Page
from monitor.remember.tiers import Reach
from monitor.words import PointId

#: Steps that go in together; more go in several transactions, so that an event never waits long.
BATCH_ROWS = 500


class HistoryFile:
    """Thinned readings on disk.

    Args:
        utc_s: the wall clock, for the age of the rows and the name of a broken file.

    Attributes:
        count: steps in it.
        reach: how far back it goes, as of the last batch.
    """

    def __init__(self, path: Path, settings: StoreSettings, utc_s: Callable[[], float]) -> None:
        self.path = path
        self.count = 0
        self.reach = Reach()
        self.set_aside: Path | None = None
        self._settings = settings
        self._utc_s = utc_s
        self._numbers: dict[PointId, Numbered] = {}
        self._connection: sqlite3.Connection | None = None

    def open(self) -> None:
        """Open or begin the file.

        Raises:
            StoreError, sqlite3.Error, DamagedError: as ``open_database``; nothing stays open then.
        """
        connection = database.open_database(self.path, database.Schema.HISTORY)
        try:
            self.count, self.reach = history.count(connection), tiers.reach(connection)
        except BaseException:
            database.close_quietly(connection)
            raise
        self._connection = connection

    @property
    def connection(self) -> sqlite3.Connection:
        """The open connection, opened now if it must be."""
        if self._connection is None:
            self.open()
        if self._connection is None:
            raise StoreError(f"{self.path} is not open.")
        return self._connection

    def replace(self) -> None:
        """Set the broken file aside; the next use of ``connection`` begins a fresh one."""
        self.close()
        self._numbers.clear()
        if self.path.exists():
            self.set_aside = disk.set_aside(self.path, self._utc_s())

    def write(self, finished: deque[PointRow], *, synced: bool = False) -> None:
        """Write one batch; its rows stay in ``finished`` if that fails. Raises what SQLite raises."""
        batch = [finished.popleft() for _ in range(min(BATCH_ROWS, len(finished)))]
        if not batch:
            return
        numbers = dict(self._numbers)
        try:
            with database.transaction(self.connection, synced=synced) as connection:
                history.add(connection, batch, numbers)
                gathering.gather(connection, batch, numbers)
        except BaseException:
            finished.extendleft(reversed(batch))
            raise
        self._numbers = numbers
        self.count = history.count(self.connection)

    def drop_old(self) -> None:
        """Let one batch of the rows beyond their age go, and give free pages back."""
        self.count -= retention.drop_old_history(self.connection, self._settings, self._utc_s())[Tier.STEPS]
        retention.give_back_pages(self.connection)
        self.reach = tiers.reach(self.connection)

    def drop_excess(self) -> bool:
        """Let one batch go if the file is beyond its bound; whether there was one to let go."""
        return self._gone(retention.drop_excess_history(self.connection, self._settings, self._utc_s()))

    def make_room(self) -> bool:
        """Give the oldest rows' place to the journal on a full disk; whether there was anything to give."""
        gone = self._gone(retention.drop_oldest_history(self.connection, self._utc_s()))
        retention.give_back_pages(self.connection, keep=0)
        return gone

    def _gone(self, dropped: retention.Dropped) -> bool:
        if dropped.tier is Tier.STEPS:
            self.count -= dropped.rows
        return dropped.rows > 0

    def page(self, tier: Tier, point: PointId, since_utc_s: float, until_utc_s: float, starts: int) -> Page:
        """Rows of one point that began in [since, until), oldest first: those of so many starts."""
        known = tier_reading.numbers(self.connection)
        wanted = {point: known[point]} if point in known else {}
        return tier_reading.page(self.connection, tier, wanted, (since_utc_s, until_utc_s), starts)

    def broken(self, error: BaseException) -> str:
        """A sentence about the file that was last replaced."""
        return disk.broken_sentence(self.path, self.set_aside, error)

    def bytes_on_disk(self) -> int:
        """Bytes of the file and its companions; 0 where the disk does not even say that."""
        with suppress(OSError):
            return disk.bytes_of(self.path)
        return 0

    def close(self) -> None:
        """Close; the log is folded into the file."""
        database.close_quietly(self._connection)
        self._connection = None
