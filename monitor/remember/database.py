"""Database: opens one SQLite file, walks its migrations, and says in plain words what its errors mean.

Write-ahead log: a reader (a backup, an SQL shell) never blocks the writer. A commit is on the disk when it
returns only under ``synchronous=FULL``; under ``NORMAL`` a power cut may take the last ones, in order, but
never half of one.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from enum import StrEnum
from importlib import resources
from pathlib import Path

from monitor.errors import StoreError

#: "Cake" in ASCII: marks a file as ours (PRAGMA application_id).
APPLICATION_ID = 0x43616B65
#: How long a statement waits for another program's lock. Short: the writer has its own patience.
BUSY_TIMEOUT_S = 0.25
#: The log keeps this much room after a checkpoint, so that a commit often still fits on a full disk.
KEPT_LOG_BYTES = 4_000_000
#: A file up to this size is checked whole at every start: some 10 ms from memory, half a second from a slow card.
WHOLE_CHECK_BYTES = 8_000_000

_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


class Schema(StrEnum):
    """The two files of a store, and the first word of their migrations' names."""

    JOURNAL = "journal"
    HISTORY = "history"


class DamagedError(Exception):
    """The file can be opened, but what is in it contradicts itself."""


#: What working with a file may raise.
TROUBLES = (sqlite3.Error, OSError, DamagedError, StoreError)


def is_damage(error: BaseException) -> bool:
    """Whether the error means that the file's contents are broken, not that the disk refuses for now."""
    if isinstance(error, DamagedError):
        return True
    return getattr(error, "sqlite_errorcode", 0) & 0xFF in _DAMAGE


def open_database(path: Path, schema: Schema) -> sqlite3.Connection:
    """Open or make the file and bring it to the newest version of its schema.

    Raises:
        StoreError: it was made by a newer version, or by another program.
        sqlite3.Error, DamagedError: it is broken (see ``is_damage``), or the disk refuses.
    """
    connection = sqlite3.connect(path, timeout=BUSY_TIMEOUT_S, isolation_level=None, check_same_thread=False)
    connection.text_factory = lenient_text
    try:
        version = _known_version(connection, path, len(migrations(schema)))
        _prepare(connection, version)
        for wanted, script in enumerate(migrations(schema)[version:], start=version + 1):
            _take_step(connection, script, wanted)
    except BaseException:
        connection.close()
        raise
    return connection


def open_untouched(path: Path, schema: Schema) -> sqlite3.Connection | None:
    """Open a file for reading without writing a byte, not even beside it: for a start on a full disk.

    Only the holder of the folder's lock may do so, for what others write meanwhile is not seen.

    Returns:
        None where that would not show everything: there is a log to be folded in, or a version to be left.
    """
    log = path.with_name(path.name + "-wal")
    if log.exists() and log.stat().st_size > 0:
        return None
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True, isolation_level=None, check_same_thread=False
    )
    connection.text_factory = lenient_text
    with suppress(sqlite3.Error):
        if number(connection, "PRAGMA user_version") == len(migrations(schema)):
            return connection
    connection.close()
    return None


def _prepare(connection: sqlite3.Connection, version: int) -> None:
    if version == 0:
        connection.execute("PRAGMA auto_vacuum = INCREMENTAL")  # heard only while the file is empty
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute(f"PRAGMA journal_size_limit = {KEPT_LOG_BYTES}")
    connection.execute("PRAGMA temp_store = MEMORY")
    connection.execute("PRAGMA synchronous = NORMAL")


def lenient_text(raw: bytes) -> str:
    """UTF-8, forgiving: a flipped bit in a text must not make its whole row unreadable."""
    return raw.decode("utf-8", "replace")


def number(connection: sqlite3.Connection, question: str) -> int:
    """The one whole number that the question has as its answer."""
    return int(connection.execute(question).fetchone()[0])


def _known_version(connection: sqlite3.Connection, path: Path, newest: int) -> int:
    """The file's version, read without changing a byte of it."""
    version = number(connection, "PRAGMA user_version")
    _refuse_strangers(connection, path, version)
    if version > newest:
        raise StoreError(
            f"{path} has version {version}, made by a newer cakewatch; this one knows {newest}: "
            "start the newer one again, or name another folder in the site file."
        )
    return version


def _refuse_strangers(connection: sqlite3.Connection, path: Path, version: int) -> None:
    if number(connection, "PRAGMA application_id") == APPLICATION_ID:
        return
    if version or number(connection, "SELECT count(*) FROM sqlite_master"):
        raise StoreError(
            f"{path} is another program's database: name a folder of the daemon's own in the site file."
        )


def _take_step(connection: sqlite3.Connection, script: str, version: int) -> None:
    marks = f"PRAGMA user_version = {version}; PRAGMA application_id = {APPLICATION_ID};"
    try:
        connection.executescript(f"BEGIN IMMEDIATE;\n{script}\n{marks}\nCOMMIT;")
    except BaseException:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise


def migrations(schema: Schema) -> list[str]:
    """The scripts of one schema, oldest first; the n-th leads from version n-1 to n."""
    folder = resources.files("monitor.remember.migrations")
    found = [entry for entry in folder.iterdir() if entry.name.startswith(f"{schema}_")]
    return [entry.read_text("utf-8") for entry in sorted(found, key=lambda entry: entry.name)]


def check(connection: sqlite3.Connection, tables: tuple[str, ...]) -> None:
    """Look for damage, in bounded time: the whole file if it is small, else the tables that matter most.

    Damage elsewhere is found when the place is used.

    Raises:
        DamagedError, sqlite3.DatabaseError: there is some.
    """
    small = size_of_pages(connection) <= WHOLE_CHECK_BYTES
    questions = ["PRAGMA quick_check(1)"] if small else [f"PRAGMA quick_check({table})" for table in tables]
    for question in questions:
        answer = connection.execute(question).fetchone()[0]
        if answer != "ok":
            raise DamagedError(answer)


def size_of_pages(connection: sqlite3.Connection) -> int:
    """Bytes of the main file once the log is folded into it, free pages included."""
    return number(connection, "PRAGMA page_count") * number(connection, "PRAGMA page_size")


@contextmanager
def transaction(connection: sqlite3.Connection, *, synced: bool) -> Iterator[sqlite3.Connection]:
    """All or nothing; with ``synced`` it is on the disk when the block has been left."""
    connection.execute(f"PRAGMA synchronous = {'FULL' if synced else 'NORMAL'}")
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield connection
        connection.execute("COMMIT")
    except BaseException:
        # SQLite has often rolled back by itself by now, and says so with an error.
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise


def close_quietly(connection: sqlite3.Connection | None) -> None:
    """Close, whatever state it is in."""
    if connection is not None:
        with suppress(sqlite3.Error):
            connection.close()
