"""History keeper: brings finished rows into the history file and keeps it within its bounds.

The history gives way first: on a full disk its rows wait in memory up to their bound, then the newest are lost.
"""

from collections import deque
from collections.abc import Callable
from contextlib import suppress

from monitor.clock import real_s
from monitor.remember import disk
from monitor.remember.database import TROUBLES, is_damage
from monitor.remember.history_file import HistoryFile
from monitor.remember.thinning import PointRow
from monitor.remember.trouble import Trouble


class HistoryKeeper:
    """Used on the writer's thread only, once that runs."""

    def __init__(self, file: HistoryFile, finished: deque[PointRow]) -> None:
        self.file = file
        self.trouble = Trouble()
        self._finished = finished

    def write(self, *, synced: bool, between: Callable[[], object]) -> bool:
        """Write what is finished, let the oldest go; whether the disk took it.

        Args:
            synced: with a sync, and even if it is not yet time for another attempt.
            between: called between two transactions, so that an event never waits for many rows.
        """
        if self.trouble.rest_s(real_s()) and not synced:
            return False
        try:
            self._write_all(synced, between)
        except TROUBLES as error:
            self.meet(error)
            return False
        self.trouble.over()
        return True

    def _write_all(self, synced: bool, between: Callable[[], object]) -> None:
        while self._finished:
            self.file.write(self._finished, synced=synced)
            between()
        self.file.drop_old()
        while self.file.drop_excess():
            between()

    def meet(self, error: BaseException) -> bool:
        """Deal with what the file raised; whether a fresh file was begun."""
        if is_damage(error):
            with suppress(OSError):
                self.file.replace()
                self.trouble.note(self.file.broken(error))
                return True
        self.trouble.met(disk.sentence(error, self.file.path), real_s())
        return False

    def make_room(self) -> None:
        """Give the oldest rows' place on the disk to the events, if the disk lets us even do that."""
        with suppress(*TROUBLES):
            self.file.make_room()
