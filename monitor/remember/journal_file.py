"""Journal file: the one connection to it, what is known of its contents, and its replacement when it is broken.

Used by one thread at a time: by whoever opens the store, then by the writer.
"""

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from uuid import uuid4

from monitor.errors import StoreError
from monitor.remember import cursors, database, disk, journal, rescue, retention, snapshot
from monitor.remember.in_tray import Work
from monitor.remember.rescue import Rescued
from monitor.words import Event

#: Checked at every start, however large the file: without them an alarm's latch would be lost.
_VITAL_TABLES = ("about", "snapshots", "cursors")


class JournalFile:
    """Events, cursors and snapshots on disk.

    Args:
        utc_s: the wall clock, for the name of a broken file.
    """

    def __init__(self, path: Path, outlets: Sequence[str], utc_s: Callable[[], float]) -> None:
        self.path = path
        self.count = 0
        self.known = Rescued()
        self.set_aside: Path | None = None
        self._outlets = tuple(outlets)
        self._utc_s = utc_s
        self._connection: sqlite3.Connection | None = None
        self._untouched: sqlite3.Connection | None = None

    def open(self) -> None:
        """Open the file, or begin it with what is ``known`` from its predecessor.

        Raises:
            StoreError, sqlite3.Error, DamagedError: as ``open_database``; nothing stays open then.
        """
        connection = database.open_database(self.path, database.Schema.JOURNAL)
        try:
            database.check(connection, _VITAL_TABLES)
            self._begin(connection)
            self._learn(connection)
        except BaseException:
            database.close_quietly(connection)
            raise
        self._connection = connection
        database.close_quietly(self._untouched)
        self._untouched = None

    def open_without_room(self) -> bool:
        """Learn what the file says although the disk is full; it is opened later, when there is room.

        Returns:
            False if that cannot be done; nothing has changed then.
        """
        if not self.path.exists() or self.path.stat().st_size == 0:
            self.known = Rescued(instance_id=str(uuid4()), positions=dict.fromkeys(self._outlets, 0))
            return True
        self._untouched = database.open_untouched(self.path, database.Schema.JOURNAL)
        if self._untouched is None:
            return False
        self._learn(self._untouched)
        end = journal.last_seq(self._untouched)
        self.known.positions = {outlet: self.known.positions.get(outlet, end) for outlet in self._outlets}
        return True

    def _begin(self, connection: sqlite3.Connection) -> None:
        with database.transaction(connection, synced=True):
            snapshot.begin(connection, self.known.instance_id, self.known.scan_s)
            cursors.restore(connection, self.known.positions)
            cursors.name_outlets(connection, self._outlets, journal.last_seq(connection))

    def _learn(self, connection: sqlite3.Connection) -> None:
        instance_id, scan_s = snapshot.about(connection)
        states = {**self.known.states, **snapshot.states(connection)}
        self.known = Rescued(instance_id, scan_s, states, cursors.positions(connection))
        self.count = database.number(connection, "SELECT count(*) FROM journal")

    @property
    def connection(self) -> sqlite3.Connection:
        """The open connection, opened now if it must be."""
        if self._connection is None:
            self.open()
        if self._connection is None:
            raise StoreError(f"{self.path} is not open.")
        return self._connection

    @property
    def reading(self) -> sqlite3.Connection:
        """A connection that may be read: on a disk that was full at the start, one that writes nothing."""
        if self._connection is None and self._untouched is not None:
            with suppress(*database.TROUBLES):
                self.open()
        return self._untouched or self.connection

    @property
    def last_seq(self) -> int:
        """The highest number ever given, as far as the file knows."""
        return journal.last_seq(self.reading) if self._connection or self._untouched else 0

    def stamps_after(self, seq: int) -> list[tuple[int, float]]:
        """Number and Unix seconds of every written event that follows ``seq``."""
        return journal.stamps_after(self.reading, seq) if self._connection or self._untouched else []

    def write(self, work: Work, *, synced: bool) -> None:
        """One transaction. Raises what SQLite raises; then nothing of it is written."""
        if self._connection is not None and not self.path.exists():
            raise database.DamagedError("the file is gone")
        with database.transaction(self.connection, synced=synced) as connection:
            journal.add(connection, work.events)
            if work.states or work.scan_s:
                snapshot.keep(connection, work.states, work.scan_s)
            cursors.move(connection, work.cursors)
            if work.aside:
                cursors.record(connection, work.aside)
        self.count += len(work.events)
        self.known.states.update(work.states)
        self.known.scan_s = max(self.known.scan_s, work.scan_s)

    def replace(self, positions: Mapping[str, int] | None = None) -> Rescued:
        """Set the broken file aside; the next use of ``connection`` begins a fresh one.

        Args:
            positions: where the outlets stand, if the caller knows better than the file.

        Returns:
            What the caller must write into the fresh file.

        Raises:
            OSError: the folder refuses; nothing has changed then.
        """
        found = self._take_away()
        if self.known.instance_id:
            found.instance_id, found.scan_s, found.states = (
                self.known.instance_id,
                self.known.scan_s,
                self.known.states,
            )
        if positions is not None:
            found.positions = dict(positions)
        self.known = found
        self.count = 0
        return found

    def _take_away(self) -> Rescued:
        if not self.path.exists():
            found = rescue.read(self._connection) if self._connection is not None else Rescued()
            self.close()
            disk.remove_companions(self.path)
            return found
        self.close()
        self.set_aside = disk.set_aside(self.path, self._utc_s())
        return rescue.rescue(self.set_aside)

    def drop_excess(self, keep: int) -> None:
        """Let one batch of the oldest confirmed events go, if there are clearly more than ``keep``."""
        excess = self.count - keep
        if excess > keep // 100:
            self.count -= retention.drop_excess_events(self.connection, excess)

    def seq_of_oldest(self, place: int) -> int:
        """The number of the event that stands at this place, counted from the oldest as 0."""
        return journal.seq_of_oldest(self.connection, place)

    def after(self, seq: int, limit: int) -> list[Event]:
        """Up to ``limit`` written events that follow ``seq``."""
        return journal.after(self.reading, seq, limit)

    def latest(self, count: int, tag: str | None) -> list[Event]:
        """The last written events, of one tag or of all, oldest first."""
        return journal.latest(self.reading, count, tag)

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
        for connection in (self._connection, self._untouched):
            database.close_quietly(connection)
        self._connection = self._untouched = None
