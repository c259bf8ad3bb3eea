"""In-tray: what waits to be written down; any thread lays things in it, the writer alone takes them.

Everything in it goes into one transaction, so a snapshot never becomes durable without the events that led to
it. It is bounded: events by number (the oldest are dropped, and who lays them is told), snapshots by the number
of collectors (the latest wins), cursors by the number of outlets, questions by number (refused beyond it).
"""

import threading
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field

from monitor.errors import StoreError
from monitor.remember.cursors import SetAside
from monitor.words import Event

#: Events that may wait in memory while the disk refuses them (about 10 MB at most).
MAX_WAITING_EVENTS = 10_000
#: Events given up by an outlet that wait to be recorded.
MAX_WAITING_ASIDE = 1_000
#: Questions that may wait for the writer; a page that asks faster than the disk answers is refused.
MAX_WAITING_QUESTIONS = 256


@dataclass(slots=True)
class Work:
    """The contents of one transaction."""

    events: tuple[Event, ...] = ()
    states: dict[str, str] = field(default_factory=dict)
    scan_s: float = 0.0
    cursors: dict[str, int] = field(default_factory=dict)
    aside: tuple[SetAside, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.events or self.states or self.scan_s or self.cursors or self.aside)


class InTray:
    """What waits for the writer.

    Args:
        bound: most events that wait; the default is the house's, tests use less.
    """

    def __init__(self, bound: int = MAX_WAITING_EVENTS) -> None:
        self._bound = bound
        self._bell = threading.Condition()
        self._rung = False
        self._events: deque[Event] = deque()
        self._rest = Work()
        self._taken = Work()
        self._questions: deque[Callable[[], None]] = deque()
        self._asked_flush: list[Future[bool]] = []
        self.closing = False

    def lay_events(self, events: Sequence[Event], states: Mapping[str, str], scan_s: float) -> list[int]:
        """Events and the states they led to. The numbers of the events that were dropped for want of room."""
        with self._bell:
            self._events.extend(events)
            self._rest.states.update(states)
            self._rest.scan_s = max(self._rest.scan_s, scan_s)
            self._ring()
            return self._trim()

    def _trim(self) -> list[int]:
        return [self._events.popleft().seq for _ in range(len(self._events) - self._bound)]

    def lay_states(self, states: Mapping[str, str], scan_s: float) -> None:
        """States without an event; only the latest of each collector is kept."""
        with self._bell:
            self._rest.states.update(states)
            self._rest.scan_s = max(self._rest.scan_s, scan_s)
            self._ring()

    def lay_cursor(self, outlet: str, seq: int) -> None:
        """Where an outlet's cursor stands now."""
        with self._bell:
            self._rest.cursors[outlet] = seq
            self._ring()

    def lay_aside(self, left: SetAside) -> None:
        """An event that an outlet could not deliver."""
        with self._bell:
            self._rest.aside = (*self._rest.aside, left)[-MAX_WAITING_ASIDE:]
            self._ring()

    def lay_rescued(self, events: Sequence[Event], states: Mapping[str, str], scan_s: float) -> list[int]:
        """What was saved from a damaged file: goes before everything that waits. As ``lay_events``."""
        with self._bell:
            self._events.extendleft(reversed(events))
            self._rest.states = {**states, **self._rest.states}
            self._rest.scan_s = max(self._rest.scan_s, scan_s)
            self._ring()
            return self._trim()

    def ask(self, question: Callable[[], None]) -> None:
        """Have the writer call something between two transactions.

        Raises:
            StoreError: too many questions wait already.
        """
        with self._bell:
            if len(self._questions) >= MAX_WAITING_QUESTIONS:
                raise StoreError("The store cannot answer as fast as it is asked: ask again later, or for less.")
            self._questions.append(question)
            self._ring()

    def ask_flush(self, *, closing: bool = False) -> Future[bool]:
        """Have everything written now; the answer is whether all of it could be."""
        with self._bell:
            self.closing = self.closing or closing
            future: Future[bool] = Future()
            self._asked_flush.append(future)
            self._ring()
            return future

    def _ring(self) -> None:
        self._rung = True
        self._bell.notify()

    def wait(self, patience_s: float) -> None:
        """Return when something was laid down since the last time, or when the patience is over."""
        with self._bell:
            if not self._rung:
                self._bell.wait(patience_s)
            self._rung = False

    @property
    def waiting(self) -> int:
        """Events that are in memory only."""
        return len(self._events) + len(self._taken.events)

    @property
    def has_events(self) -> bool:
        """Whether an event waits (anything else may wait a little to be joined by more)."""
        return bool(self._events)

    @property
    def flush_asked(self) -> bool:
        """Whether somebody waits for everything to be written."""
        return bool(self._asked_flush)

    @property
    def last_waiting(self) -> int:
        """The number of the last event that waits; 0 for none."""
        with self._bell:
            return self._events[-1].seq if self._events else 0

    @property
    def something(self) -> bool:
        """Whether anything at all waits to be written."""
        return bool(self._events or self._rest)

    def take(self) -> Work:
        """Everything that waits, as one transaction; then say ``done`` or ``put_back``."""
        with self._bell:
            self._taken, self._rest = self._rest, Work()
            self._taken.events = tuple(self._events)
            self._events.clear()
            return self._taken

    def done(self) -> None:
        """What was taken is written."""
        self._taken = Work()

    def put_back(self) -> list[int]:
        """What was taken could not be written: it waits again, before all newer. As ``lay_events``."""
        with self._bell:
            old, new = self._taken, self._rest
            self._taken = Work()
            self._events.extendleft(reversed(old.events))
            self._rest = Work(
                states={**old.states, **new.states},
                scan_s=max(old.scan_s, new.scan_s),
                cursors={**old.cursors, **new.cursors},
                aside=(*old.aside, *new.aside)[-MAX_WAITING_ASIDE:],
            )
            return self._trim()

    def waiting_after(self, seq: int, limit: int) -> list[Event]:
        """Up to ``limit`` waiting events that follow ``seq``, in order."""
        with self._bell:
            return [event for event in self._events if event.seq > seq][:limit]

    def questions(self) -> list[Callable[[], None]]:
        """The questions that wait; they are the caller's from now on."""
        with self._bell:
            found = list(self._questions)
            self._questions.clear()
            return found

    def flushes(self) -> list[Future[bool]]:
        """Who waits for everything to be written; they are the caller's from now on."""
        with self._bell:
            found, self._asked_flush = self._asked_flush, []
            return found
