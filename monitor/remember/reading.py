"""Reading: the journal of a store, read by another process while its daemon writes, or after it has ended.

No file is made, and none is changed but SQLite's shared memory of an open one. Each page is a question of its own,
so no long look keeps the daemon's log from being folded in; events that come or go meanwhile are seen or not.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from monitor.errors import StoreError
from monitor.remember import database, disk, journal
from monitor.words import Event

#: Events fetched at once: about 1 MB.
PAGE_EVENTS = 2_000


class JournalReader:
    """A look into a store from outside; use it as a context.

    Args:
        folder: the store's, as in ``StoreSettings``.

    Raises:
        StoreError: there is no journal, or it cannot be read: a sentence with the way out.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / "journal.db"
        self._history_path = folder / "history.db"
        self._journal = _open(self._path)
        self._history: sqlite3.Connection | None = None
        with suppress(StoreError):  # traces are a help; the journal does without
            self._history = _open(self._history_path)

    def __enter__(self) -> "JournalReader":
        return self

    def __exit__(self, *_: object) -> None:
        """Close."""
        for connection in (self._journal, self._history):
            database.close_quietly(connection)

    def events(self) -> Iterator[Event]:
        """Every event there is, in order.

        Raises:
            StoreError: as for the class, and in the middle of it.
        """
        seq = 0
        while True:
            try:
                page = journal.after(self._journal, seq, PAGE_EVENTS)
            except sqlite3.Error as error:
                raise StoreError(_sentence(error, self._path)) from error
            yield from page
            if len(page) < PAGE_EVENTS:
                return
            seq = page[-1].seq

    @property
    def has_history(self) -> bool:
        """Whether the history can be read, so that traces are known."""
        return self._history is not None

    def last_trace(self, before_utc_s: float) -> float | None:
        """When a reading was last recorded before a moment, Unix seconds to one history step; None: not known."""
        if self._history is None:
            return None
        question = "SELECT max(start_utc_s) FROM history WHERE start_utc_s < ?"
        try:
            found = self._history.execute(question, (before_utc_s,)).fetchone()[0]
        except sqlite3.Error:
            return None
        return None if found is None else float(found)


def open_to_look(path: Path) -> sqlite3.Connection:
    """Open one file of a store from outside, to read it.

    Raises:
        StoreError: it is not there or cannot be read: a sentence with the way out.
    """
    return _open(path)


def in_words(error: sqlite3.Error, path: Path) -> str:
    """Why a file that was open cannot be read any more, and the way out."""
    return _sentence(error, path)


def _open(path: Path) -> sqlite3.Connection:
    try:
        if not path.exists():
            raise StoreError(
                f"There is no {path}: no daemon has run with this site file yet, or its store lies elsewhere "
                "(store.folder in the site file)."
            )
        connection = _connect(path)
    except PermissionError as error:
        raise StoreError(_sentence(error, path)) from error
    try:
        _refuse_strangers(connection, path)
    except sqlite3.Error as error:
        connection.close()
        raise StoreError(_sentence(error, path)) from error
    except StoreError:
        connection.close()
        raise
    return connection


def _connect(path: Path) -> sqlite3.Connection:
    """Without its log, nobody has the file open, and a look must not leave one that the daemon cannot write."""
    log = path.with_name(path.name + "-wal")
    mode = "mode=ro" if log.exists() else "mode=ro&immutable=1"
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?{mode}", uri=True, isolation_level=None, timeout=database.BUSY_TIMEOUT_S
    )
    connection.text_factory = database.lenient_text
    return connection


def _refuse_strangers(connection: sqlite3.Connection, path: Path) -> None:
    version = database.number(connection, "PRAGMA user_version")
    if database.number(connection, "PRAGMA application_id") != database.APPLICATION_ID:
        raise StoreError(f"{path} was not made by cakewatch: name the daemon's own folder in the site file.")
    schema = database.Schema(path.stem)
    newest = len(database.migrations(schema))
    if version > newest:
        raise StoreError(
            f"{path} has version {version}, made by a newer cakewatch; this one knows {newest}: use the newer one."
        )


def _sentence(error: BaseException, path: Path) -> str:
    """Why the file cannot be read, and the way out; ``disk`` speaks of writing."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if isinstance(error, PermissionError) or code in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY):
        return f"{path} may not be read by you: ask again as the user the daemon runs as."
    if database.is_damage(error):
        return f"{path} is broken ({error}): the daemon sets it aside at its next start and saves what it can."
    return disk.sentence(error, path)
