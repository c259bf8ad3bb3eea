"""Writer: the one thread that touches the disk, and the rhythm in which it does.

An event commits at once, with a sync. Anything else waits up to ``SOON_S`` to be joined by more, and readings
for the site's flush time.
"""

import logging
import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import TypeVar

from monitor.clock import real_s
from monitor.errors import StoreError
from monitor.figures import StoreFigures
from monitor.remember.database import TROUBLES
from monitor.remember.history_keeper import HistoryKeeper
from monitor.remember.in_tray import InTray
from monitor.remember.journal_keeper import JournalKeeper
from monitor.remember.tiers import Span

#: What needs no sync waits this long for company: fewer pages written, and a killed process loses no more.
SOON_S = 0.2

_log = logging.getLogger(__name__)
_Answer = TypeVar("_Answer")


class Writer:
    """Owns both files from ``start`` to its end.

    Attributes:
        figures: replaced as a whole after every turn; what others know better is left out.
        busy_since_s: second of the steady clock at which the turn under way began; None between turns.
        callbacks: told the last event that may be told, on the writer's thread.
        ended: done when both files are closed.
    """

    def __init__(
        self,
        journal: JournalKeeper,
        history: HistoryKeeper,
        tray: InTray,
        *,
        flush_s: float,
    ) -> None:
        self.busy_since_s: float | None = None
        self.callbacks: list[Callable[[int], None]] = []
        self.ended: Future[bool] = Future()
        self._journal = journal
        self._history = history
        self._tray = tray
        self._flush_s = flush_s
        self._announced = journal.committed
        self._next_soon_s = 0.0
        self._next_flush_s = real_s() + flush_s
        self.figures = self._figures()

    def start(self) -> None:
        """Begin. The thread never keeps the process from ending."""
        threading.Thread(target=self._run, name="remember", daemon=True).start()

    def ask(self, job: Callable[[], _Answer], recover: Callable[[BaseException], bool]) -> Future[_Answer]:
        """Have a job done between two transactions.

        Args:
            job: reads; runs on the writer's thread.
            recover: told what the disk or SQLite raised; if it says so, the job is done once more. Otherwise the
                asker gets a StoreError.

        Raises:
            StoreError: too many wait, or the store is closed.
        """
        if self._tray.closing:
            raise StoreError("The store is closed.")
        answer: Future[_Answer] = Future()
        self._tray.ask(lambda: _do(job, recover, answer))
        return answer

    def _run(self) -> None:
        while not self._turn():
            self._tray.wait(self._rest_s())
        self._journal.file.close()
        self._history.file.close()
        self.ended.set_result(True)

    def _rest_s(self) -> float:
        now_s = real_s()
        trouble = self._journal.trouble
        if self._tray.flush_asked:
            return 0.0
        due_s = [self._next_flush_s - now_s]
        if self._history.trouble.active:
            due_s.append(self._history.trouble.rest_s(now_s))
        if trouble.active:
            due_s.append(trouble.rest_s(now_s))
        elif self._tray.something:
            due_s.append(0.0 if self._tray.has_events else self._next_soon_s - now_s)
        return max(0.0, min(due_s))

    def _turn(self) -> bool:
        """Do what is due; whether it was the last turn."""
        self.busy_since_s = real_s()
        closing = self._tray.closing
        flushes = [flush for flush in self._tray.flushes() if flush.set_running_or_notify_cancel()]
        try:
            self._do_what_is_due(everything=closing or bool(flushes))
        except Exception as error:  # a fault of ours must not end the only thread that can save anything
            _log.exception("the writer met a fault of its own")
            self._journal.trouble.met(f"The store met a fault of its own: {error!r}.", real_s())
        self.figures = self._figures()
        self._announce()
        for flush in flushes:
            # What was laid in the tray since (a cursor, mostly) is the next turn's: only a refusal counts here.
            flush.set_result(not self._journal.trouble.active and not self._history.trouble.active)
        self.busy_since_s = None
        return closing

    def _do_what_is_due(self, *, everything: bool) -> None:
        now_s = real_s()
        soon = now_s >= self._next_soon_s and (self._tray.something or self._journal.trouble.active)
        if everything or ((soon or self._tray.has_events) and not self._journal.trouble.rest_s(now_s)):
            self._write_events(synced=everything)
        self._announce()
        self._answer()
        again = self._history.trouble.active and not self._history.trouble.rest_s(now_s)
        if everything or again or now_s >= self._next_flush_s:
            self._write_history(synced=everything)

    def _write_events(self, *, synced: bool) -> None:
        self._journal.write(synced=synced)
        self._next_soon_s = real_s() + SOON_S

    def _write_history(self, *, synced: bool) -> None:
        self._history.write(synced=synced, between=self._let_events_pass)
        self._next_flush_s = real_s() + self._flush_s

    def _let_events_pass(self) -> None:
        if self._tray.has_events and not self._journal.trouble.active:
            self._write_events(synced=False)
            self._announce()
        self._answer()

    def _answer(self) -> None:
        for question in self._tray.questions():
            question()

    def _announce(self) -> None:
        tellable = self._journal.tellable
        if tellable <= self._announced:
            return
        self._announced = tellable
        for callback in self.callbacks:
            try:
                callback(tellable)
            except RuntimeError:
                _log.debug("the loop that was to be told has closed")
            except Exception:  # the listener's fault; the next event must be written all the same
                _log.exception("a listener failed")

    def _figures(self) -> StoreFigures:
        journal, history = self._journal, self._history
        reach = history.file.reach
        troubles = sorted((journal.trouble, history.trouble), key=lambda each: not each.active)
        return StoreFigures(
            healthy=not any(each.active for each in troubles),
            last_error=next((each.sentence for each in troubles if each.sentence), ""),
            journal_events=journal.file.count,
            history_rows=history.file.count,
            bytes_on_disk=journal.file.bytes_on_disk() + history.file.bytes_on_disk(),
            dropped_events=journal.dropped,
            oldest_step_utc_s=_oldest(reach.steps),
            oldest_minute_utc_s=_oldest(reach.minutes),
            oldest_hour_utc_s=_oldest(reach.hours),
        )


def _oldest(span: Span | None) -> float | None:
    return None if span is None else float(span.oldest_utc_s)


def _do(job: Callable[[], _Answer], recover: Callable[[BaseException], bool], answer: Future[_Answer]) -> None:
    if not answer.set_running_or_notify_cancel():
        return
    try:
        answer.set_result(_do_again_if(recover, job))
    except TROUBLES as error:
        answer.set_exception(StoreError(f"The store could not be read: {error}."))
    except Exception as error:  # the asker's to know, not the writer's to die of
        answer.set_exception(error)


def _do_again_if(recover: Callable[[BaseException], bool], job: Callable[[], _Answer]) -> _Answer:
    try:
        return job()
    except TROUBLES as error:
        if not recover(error):
            raise
    return job()
