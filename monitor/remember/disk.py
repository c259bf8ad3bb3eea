"""Disk: the store's files as files: their size, their setting aside, and what the disk's refusals mean."""

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

#: What SQLite keeps beside a file in write-ahead mode.
COMPANIONS = ("-wal", "-shm")

_READ_ONLY = (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_AUTH)
_LOCKED = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_PROTOCOL)


def set_aside(path: Path, utc_s: float) -> Path:
    """Rename a broken file and its companions, so that a person may look at them; nothing is deleted.

    Returns:
        The new name of the main file: ``journal.db.broken-20250102T030405Z``.

    Raises:
        OSError: the folder cannot be written.
    """
    target = _free_name(path, utc_s)
    # Companions first: were the main file renamed alone, its log would be taken for the fresh file's.
    for ending in COMPANIONS:
        companion = path.with_name(path.name + ending)
        if companion.exists():
            companion.rename(target.with_name(target.name + ending))
    path.rename(target)
    return target


def _free_name(path: Path, utc_s: float) -> Path:
    stamp = datetime.fromtimestamp(utc_s, UTC).strftime("%Y%m%dT%H%M%SZ")
    target = path.with_name(f"{path.name}.broken-{stamp}")
    again = 1
    while target.exists():
        again += 1
        target = path.with_name(f"{path.name}.broken-{stamp}-{again}")
    return target


def remove_companions(path: Path) -> None:
    """Remove the log of a file that somebody deleted: a fresh file would take it for its own."""
    for ending in COMPANIONS:
        path.with_name(path.name + ending).unlink(missing_ok=True)


def bytes_of(path: Path) -> int:
    """Bytes of a database file and its companions; 0 for what is not there."""
    files = (path, *(path.with_name(path.name + ending) for ending in COMPANIONS))
    return sum(file.stat().st_size for file in files if file.exists())


def is_full(error: BaseException) -> bool:
    """Whether the disk has no room: for a page, or for what SQLite keeps beside the file."""
    code = getattr(error, "sqlite_errorcode", 0)
    return code & 0xFF == sqlite3.SQLITE_FULL or code == sqlite3.SQLITE_IOERR_SHMSIZE


def sentence(error: BaseException, path: Path) -> str:
    """What a refusal of the disk means, and the way out, for a person."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if is_full(error):
        return f"There is no room left for {path}: free some space on that disk."
    if code in _READ_ONLY or isinstance(error, PermissionError):
        return f"{path} cannot be written ({error}): check its owner, and that the disk is not read-only."
    if code in _LOCKED:
        return f"Another program holds {path} locked: end its transaction (a backup, an SQL shell)."
    if code == sqlite3.SQLITE_IOERR or isinstance(error, OSError):
        return f"The disk under {path} failed ({error}): check the disk or the memory card."
    return f"{path} could not be used: {error}."


def broken_sentence(path: Path, kept_as: Path | None, error: BaseException) -> str:
    """What happened to a broken file, for a person."""
    where = f"It is kept as {kept_as}" if kept_as else "Nothing of it was left"
    return f"{path} was broken ({error}). {where}; a fresh one was begun."
