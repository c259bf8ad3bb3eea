"""Opening: from a folder to two open files, whatever state the last daemon left them in."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from monitor.errors import StoreError
from monitor.remember import disk
from monitor.remember.backlog import Backlog
from monitor.remember.database import TROUBLES, is_damage
from monitor.remember.history_file import HistoryFile
from monitor.remember.in_tray import InTray
from monitor.remember.journal_file import JournalFile
from monitor.remember.lock import FolderLock
from monitor.remember.settings import StoreSettings
from monitor.words import Instant

_Saved = TypeVar("_Saved")


@dataclass(frozen=True, slots=True)
class Opened:
    """An open store before its writer runs; in the tray lies what was saved from a broken journal.

    Attributes:
        committed: the last event on disk.
        last_seq: the last number ever given.
        trouble: a sentence if the disk is full already; empty otherwise.
    """

    lock: FolderLock
    journal: JournalFile
    history: HistoryFile
    tray: InTray
    backlog: Backlog
    committed: int
    last_seq: int
    trouble: str

    @property
    def set_aside(self) -> Path | None:
        """Where a broken journal, or else a broken history, was put."""
        return self.journal.set_aside or self.history.set_aside


def open_store(settings: StoreSettings, now: Callable[[], Instant], outlets: Sequence[str]) -> Opened:
    """Take the folder's lock and open both files.

    Raises:
        StoreError: as ``Store.open``; nothing stays open or locked then.
    """
    _make_folder(settings.folder)
    lock = FolderLock(settings.folder)
    try:
        return _open_files(lock, settings, lambda: now().utc_s, outlets)
    except BaseException:
        lock.release()
        raise


def _make_folder(folder: Path) -> None:
    try:
        # One that is made here is for the daemon's user alone: what links are made of lies in it.
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"The store folder {folder} cannot be made ({error.strerror}): "
            "make it yourself for the user the daemon runs as, or name another one in the site file."
        ) from error


def _open_files(
    lock: FolderLock, settings: StoreSettings, utc_s: Callable[[], float], outlets: Sequence[str]
) -> Opened:
    tray = InTray()
    file = JournalFile(settings.folder / "journal.db", outlets, utc_s)
    history = HistoryFile(settings.folder / "history.db", settings, utc_s)
    try:
        trouble = _open_journal(file, tray) or _open_history(history)
    except BaseException:
        file.close()
        raise
    committed = file.last_seq
    last_seq = max(committed, tray.last_waiting)
    return Opened(lock, file, history, tray, _backlog(file, tray), committed, last_seq, trouble)


def _open_journal(file: JournalFile, tray: InTray) -> str:
    """A sentence if the disk is full already: then the daemon watches all the same, and tries again."""
    try:
        file.open()
    except TROUBLES as error:
        if disk.is_full(error) and file.open_without_room():
            return disk.sentence(error, file.path)
        _stop_unless_damage(error, file.path)
        saved = _aside(file.path, file.replace)
        _begin(file)
        tray.lay_rescued(saved.events, saved.states, saved.scan_s)
    return ""


def _open_history(file: HistoryFile) -> str:
    """As ``_open_journal``."""
    try:
        file.open()
    except TROUBLES as error:
        if disk.is_full(error):
            return disk.sentence(error, file.path)
        _stop_unless_damage(error, file.path)
        _aside(file.path, file.replace)
        _begin(file)
    return ""


def _aside(path: Path, replace: Callable[[], _Saved]) -> _Saved:
    try:
        return replace()
    except OSError as error:
        raise StoreError(
            f"{path} is broken and cannot be set aside ({error.strerror}): rename it yourself."
        ) from error


def _begin(file: JournalFile | HistoryFile) -> None:
    try:
        file.open()
    except TROUBLES as error:
        raise StoreError(disk.sentence(error, file.path)) from error


def _stop_unless_damage(error: BaseException, path: Path) -> None:
    if isinstance(error, StoreError):
        raise error
    if not is_damage(error):
        raise StoreError(disk.sentence(error, path)) from error


def _backlog(file: JournalFile, tray: InTray) -> Backlog:
    positions = file.known.positions
    stamps = file.stamps_after(min(positions.values())) if positions else []
    waiting = [(event.seq, event.at_utc_s) for event in tray.waiting_after(0, tray.waiting)]
    return Backlog(positions, [*stamps, *waiting])
