"""Journal keeper: brings the tray's contents into the journal file, and lives with a disk that refuses them.

While it refuses, events stay in the tray and may be told all the same; each attempt writes everything that
waits, in order and under the same ids. A broken file is replaced at once and gets what could be saved from it.
"""

import logging
from collections.abc import Callable, Sequence
from contextlib import suppress

from monitor.clock import real_s
from monitor.remember import disk
from monitor.remember.backlog import Backlog
from monitor.remember.cursors import SetAside
from monitor.remember.database import TROUBLES, is_damage
from monitor.remember.in_tray import InTray
from monitor.remember.journal_file import JournalFile
from monitor.remember.trouble import Trouble
from monitor.words import Event

_log = logging.getLogger(__name__)

#: Batches of history given up in one spell of a full disk; more would only feed whoever fills the disk.
MOST_ROOM_MADE = 20


class JournalKeeper:
    """Used on the writer's thread only, once that runs.

    Args:
        keep: events that stay in the journal; unconfirmed ones up to twice as many.
        make_room: asks the history to give up some of its place.
        utc_s: the wall clock, for a record of what had to be given up.

    Attributes:
        committed: the last event that is on disk.
        dropped: events that were lost since the start.
    """

    def __init__(
        self,
        file: JournalFile,
        tray: InTray,
        backlog: Backlog,
        *,
        keep: int,
        committed: int,
        make_room: Callable[[], object],
        utc_s: Callable[[], float],
    ) -> None:
        self.file = file
        self.trouble = Trouble()
        self.committed = committed
        self.dropped = 0
        self._tray = tray
        self._backlog = backlog
        self._keep = keep
        self._giving_up = False
        self._make_room = make_room
        self._utc_s = utc_s
        self._room_made = 0

    def write(self, *, synced: bool) -> bool:
        """Write everything that lies in the tray, as one transaction; whether the disk took it.

        Args:
            synced: with a sync even if there is no event in it.
        """
        if not self._attempt(synced):
            return False
        self.trouble.over()
        self._room_made = 0
        self._keep_within_bounds()
        return True

    def recover(self, error: BaseException) -> bool:
        """Deal with what reading raised; whether reading again may help, since a fresh file was begun."""
        return self.meet(error) and self.write(synced=True)

    def _attempt(self, synced: bool) -> bool:
        work = self._tray.take()
        try:
            if work or self.trouble.active:
                self.file.write(work, synced=synced or bool(work.events))
        except TROUBLES as error:
            self.lose(self._tray.put_back())
            return self.meet(error) and self._attempt(synced)
        except BaseException:
            self.lose(self._tray.put_back())
            raise
        self._tray.done()
        if work.events:
            self.committed = max(self.committed, work.events[-1].seq)
        return True

    def meet(self, error: BaseException) -> bool:
        """Deal with what the file raised; whether to try again at once, on a fresh file."""
        if is_damage(error):
            with suppress(OSError):
                self._replace(error)
                return True
        self.trouble.met(disk.sentence(error, self.file.path), real_s())
        if self._wants_room(error):
            self._room_made += 1
            self._make_room()
        return False

    def _wants_room(self, error: BaseException) -> bool:
        return disk.is_full(error) and self._tray.waiting > 0 and self._room_made < MOST_ROOM_MADE

    def _replace(self, error: BaseException) -> None:
        found = self.file.replace(self._backlog.positions())
        gone = {seq for seq in self._backlog.unconfirmed() if seq <= self.committed}
        gone -= {event.seq for event in found.events}
        self.lose(sorted(gone))
        self.lose(self._tray.lay_rescued(found.events, found.states, found.scan_s))
        self.trouble.note(f"{self.file.broken(error)} {len(gone)} untold events were lost with it.")

    def lose(self, seqs: Sequence[int]) -> None:
        """Count events that nobody will ever be told."""
        self._backlog.forget(seqs)
        self.dropped += len(seqs)

    def _keep_within_bounds(self) -> None:
        try:
            self.file.drop_excess(self._keep)
            if self.file.count > 2 * self._keep:
                self._give_up_oldest()
            elif self.file.count <= self._keep:
                self._giving_up = False
        except TROUBLES as error:
            self.meet(error)

    def _give_up_oldest(self) -> None:
        """An outlet that has been away for ever may not fill the disk: its cursor passes the oldest."""
        end = self.file.seq_of_oldest(self.file.count - 2 * self._keep + self._keep // 100)
        self.dropped += sum(seq <= end for seq in self._backlog.unconfirmed())
        if not self._giving_up:
            self._giving_up = True
            _log.error(
                "events are being given up untold: more than %d wait for an outlet that does not confirm them; "
                "bring it back, or raise store.keep_events",
                2 * self._keep,
            )
        why = f"given up: more than {2 * self._keep} events waited; this and all before it went untold"
        for outlet in self._backlog.positions():
            if self._backlog.confirm(outlet, end):
                self._tray.lay_cursor(outlet, end)
                self._tray.lay_aside(SetAside(outlet, end, self._utc_s(), why))

    @property
    def tellable(self) -> int:
        """The last event that may be told: on disk, or waiting while the disk refuses."""
        return max(self.committed, self._tray.last_waiting if self.trouble.active else 0)

    def after(self, seq: int, limit: int) -> list[Event]:
        """Up to ``limit`` events after ``seq`` that may be told, in order. Raises what SQLite raises."""
        waiting = self._tray.waiting_after(seq, limit) if self.trouble.active else []
        if waiting and waiting[0].seq == seq + 1:
            return waiting  # a disk that is out of order need not be asked
        return [*self.file.after(seq, limit), *waiting][:limit]
