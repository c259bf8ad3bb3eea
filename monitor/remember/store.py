"""Store: what the daemon remembers: events, how far each outlet is, the judge's state, and the history.

Nothing here waits for the disk except what is ``async``; a thread of the store's own does the writing. Two files
lie in the folder: ``journal.db`` (small, synced, cannot be done without) and ``history.db`` (bulk, bounded).
"""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path
from uuid import uuid4

from monitor.clock import real_s
from monitor.errors import StoreError
from monitor.figures import StoreFigures
from monitor.remember.cursors import SetAside
from monitor.remember.history_keeper import HistoryKeeper
from monitor.remember.journal_keeper import JournalKeeper
from monitor.remember.opening import Opened, open_store
from monitor.remember.settings import StoreSettings
from monitor.remember.thinning import Thinner
from monitor.remember.tier import Tier
from monitor.remember.tier_reading import Page
from monitor.remember.writer import Writer
from monitor.words import Event, HistoryRow, HourRow, Instant, PointId, Reading

#: Flushing and closing take no longer, even if the disk hangs.
PATIENCE_S = 1.0
#: A turn of the writer that takes longer than this means that the disk hangs.
STUCK_S = 5.0
#: Rows of history fetched at once; events may commit between two fetches.
PAGE_ROWS = 2_000


class Store:
    """Made by ``open``; all methods are called from the event loop.

    Attributes:
        scan_s: the scan second up to which everything is remembered; 0.0 for a fresh store.
        snapshots: what the daemon asked to be remembered, text by key, as it was when the store was opened.
        instance_id: names this store; made when its journal was made.
        set_aside: where a journal (or else a history) found broken at opening was put; None if both were sound.
    """

    def __init__(self, opened: Opened, settings: StoreSettings, now: Callable[[], Instant]) -> None:
        known = opened.journal.known
        self.scan_s = known.scan_s
        self.snapshots: Mapping[str, str] = dict(known.states)
        self.instance_id = known.instance_id or ""
        self.set_aside: Path | None = opened.set_aside
        self._lock = opened.lock
        self._tray = opened.tray
        self._backlog = opened.backlog
        self._now = now
        self._thinner = Thinner(settings.history_step_s)
        self._run_id = uuid4().hex[:16]
        self._number = 0
        self._last_seq = opened.last_seq
        self._dropped = 0
        self._history = HistoryKeeper(opened.history, self._thinner.finished)
        self._journal = JournalKeeper(
            opened.journal,
            self._tray,
            self._backlog,
            keep=settings.keep_events,
            committed=opened.committed,
            make_room=self._history.make_room,
            utc_s=lambda: now().utc_s,
        )
        if opened.trouble:
            self._journal.trouble.met(opened.trouble, real_s())
        self._writer = Writer(self._journal, self._history, self._tray, flush_s=settings.flush_s)
        self._writer.start()

    @classmethod
    def open(cls, settings: StoreSettings, *, now: Callable[[], Instant], outlets: Sequence[str]) -> "Store":
        """Open the folder's store, or begin one; blocks for some milliseconds.

        A broken file is set aside under a new name and a fresh one gets what could be saved from it.

        Args:
            settings: where it lies and how large it may grow.
            now: the clock; only ``utc_s`` is used, and only for stamps.
            outlets: who is to be told of every event. One that was not named last time starts at the journal's
                end; one that is no longer named is forgotten.

        Raises:
            StoreError: the folder or a file cannot be written, belongs to a running daemon, to a newer version
                or to another program. A disk that is merely full is no reason not to start.
        """
        return cls(open_store(settings, now, outlets), settings, now)

    # ------------------------------------------------------------ writing

    def append(self, events: Sequence[Event], snapshots: Mapping[str, str], scan_s: float) -> tuple[Event, ...]:
        """Stamp events with number and id and have them written, with the states they led to, as one.

        Args:
            events: in the order in which they happened.
            scan_s: the second of the scan clock at which the states hold.
            snapshots: key → JSON text, for those that changed; an empty text forgets the key.

        Returns:
            The stamped events. They may be told when ``on_committed`` says so, not before.
        """
        stamped = tuple(self._stamp(event) for event in events)
        for event in stamped:
            self._backlog.add(event.seq, event.at_utc_s)
        dropped = self._tray.lay_events(stamped, snapshots, scan_s)
        self._backlog.forget(dropped)
        self._dropped += len(dropped)
        return stamped

    def _stamp(self, event: Event) -> Event:
        self._last_seq += 1
        self._number += 1
        return replace(event, seq=self._last_seq, event_id=f"{self._run_id}-{self._number}")

    def remember(self, snapshots: Mapping[str, str], scan_s: float) -> None:
        """Have states without an event written soon, without a sync; of several the latest counts."""
        self._tray.lay_states(snapshots, scan_s)

    def record(self, point: PointId, reading: Reading) -> None:
        """Count one reading into the history; about a microsecond, no disk."""
        self._thinner.record(point, reading)

    # ------------------------------------------------------------ telling

    def on_committed(self, callback: Callable[[int], None]) -> None:
        """Call back with the number of the last event that may be told, each time it has grown.

        It is called on the store's own thread: hand in something that passes it on to the loop. While the disk
        refuses, events may be told before they are written.
        """
        self._writer.callbacks.append(callback)

    async def events_after(self, seq: int, limit: int = 100) -> list[Event]:
        """Up to ``limit`` events after ``seq`` that may be told, in order.

        Raises:
            StoreError: the file could not be read just now.
        """
        answer = self._writer.ask(lambda: self._journal.after(seq, limit), self._journal.recover)
        return await asyncio.wrap_future(answer)

    def cursor(self, outlet: str) -> int:
        """The last event this outlet confirmed.

        Raises:
            StoreError: the store was opened without this outlet.
        """
        try:
            return self._backlog.position(outlet)
        except KeyError:
            raise StoreError(f"The store was opened without an outlet named {outlet!r}.") from None

    def confirm(self, outlet: str, seq: int) -> None:
        """The other side has everything up to ``seq``; a cursor never goes back, nor beyond the last event.

        Raises:
            StoreError: the store was opened without this outlet.
        """
        self.cursor(outlet)
        seq = min(seq, self._last_seq)
        if self._backlog.confirm(outlet, seq):
            self._tray.lay_cursor(outlet, seq)

    def set_aside_event(self, outlet: str, seq: int, why: str) -> None:
        """Record that an outlet can never deliver this event; then it may ``confirm`` past it."""
        self._tray.lay_aside(SetAside(outlet, seq, self._now().utc_s, why))

    # ------------------------------------------------------------ reading

    async def history(self, point: PointId, since_utc_s: float, until_utc_s: float) -> list[HistoryRow]:
        """The written history of one point: steps that began in [since, until), oldest first.

        Raises:
            StoreError: the file could not be read just now.
        """
        return await self._rows(Tier.STEPS, point, since_utc_s, until_utc_s)

    async def hours(self, point: PointId, since_utc_s: float, until_utc_s: float) -> list[HourRow]:
        """The written hours of one point that began in [since, until), oldest first; the last may not be over.

        Raises:
            StoreError: the file could not be read just now.
        """
        found = await self._rows(Tier.HOURS, point, since_utc_s, until_utc_s)
        return [row for row in found if isinstance(row, HourRow)]

    async def _rows(self, tier: Tier, point: PointId, since_utc_s: float, until_utc_s: float) -> list[HistoryRow]:
        rows: list[HistoryRow] = []
        next_utc_s: float | None = since_utc_s
        while next_utc_s is not None:
            page = await self._page(tier, point, next_utc_s, until_utc_s)
            rows += [row for _, row in page.rows]
            next_utc_s = page.next_utc_s
        return rows

    async def _page(self, tier: Tier, point: PointId, since_utc_s: float, until_utc_s: float) -> Page:
        def job() -> Page:
            return self._history.file.page(tier, point, since_utc_s, until_utc_s, PAGE_ROWS)

        return await asyncio.wrap_future(self._writer.ask(job, self._history.meet))

    async def last_events(self, n: int, tag: str | None = None) -> list[Event]:
        """The last ``n`` written events, of one tag or of all, oldest first.

        Raises:
            StoreError: the file could not be read just now.
        """
        answer = self._writer.ask(lambda: self._journal.file.latest(n, tag), self._journal.recover)
        return await asyncio.wrap_future(answer)

    def figures(self) -> StoreFigures:
        """Everything the store counts about itself, from memory."""
        figures = self._writer.figures
        since_s = self._writer.busy_since_s
        stuck_s = 0.0 if since_s is None else real_s() - since_s
        stuck = stuck_s > STUCK_S
        return replace(
            figures,
            healthy=figures.healthy and not stuck,
            last_error=f"The disk has not answered for {stuck_s:.0f} s." if stuck else figures.last_error,
            waiting_events=self._tray.waiting,
            dropped_events=figures.dropped_events + self._dropped,
            dropped_history_rows=self._thinner.dropped,
            outlets=self._backlog.figures(),
        )

    # ------------------------------------------------------------ the end

    async def flush(self) -> None:
        """Return when everything is written, unfinished steps of the history too.

        Raises:
            StoreError: the disk would not take all of it within ``PATIENCE_S``, or the store is closed.
        """
        if self._tray.closing:
            raise StoreError("The store is closed.")
        self._thinner.finish_all()
        if not await _within_patience(self._tray.ask_flush()):
            raise StoreError(self.figures().last_error or "The disk did not take everything in time.")

    async def written(self) -> None:
        """Return when every event and state handed over so far is on disk, with a sync; the history may wait.

        Raises:
            StoreError: the store is closed, or too many wait for it.
        """
        write = self._journal.write
        await asyncio.wrap_future(self._writer.ask(lambda: write(synced=True), self._journal.recover))

    async def close(self) -> None:
        """Write everything and close both files; gives up after ``PATIENCE_S`` if the disk hangs."""
        if self._tray.closing:
            return
        self._thinner.finish_all()
        self._tray.ask_flush(closing=True)
        if await _within_patience(self._writer.ended):
            self._lock.release()


async def _within_patience(promise: Future[bool]) -> bool:
    # Shielded: whoever stops waiting must not call off the writing itself.
    waiting = asyncio.shield(asyncio.wrap_future(promise))
    try:
        return await asyncio.wait_for(waiting, PATIENCE_S)
    except TimeoutError:
        return False
