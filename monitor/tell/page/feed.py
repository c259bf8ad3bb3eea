"""Feed: what is news to the open pages, and when they hear of it.

Figures and cards once a second at most, alarms within a fifth of a second, each event of the journal as soon as it
may be told, a beat every two seconds. Without an open page nothing of it is worked out. A fault of the page's own
must not end the watch: it is logged, and each beat says that the page cannot be trusted until it is over.
"""

import asyncio
import contextlib
import logging
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor
from functools import partial

from monitor.tell.health import OK
from monitor.tell.page import whole
from monitor.tell.page.happenings import happening
from monitor.tell.page.listener import Listener
from monitor.tell.page.news import News
from monitor.tell.page.rounding import rounded
from monitor.tell.page.source import Source
from monitor.tell.page.whole import BEAT_S, Look
from monitor.tell.page.writing import message
from monitor.words import Event

log = logging.getLogger(__name__)

#: Pages that may be open at once (our choice: control room, office and the phones of a shift).
MOST_LISTENERS = 30
CARDS_S = 1.0
ALARMS_S = 0.2
#: Values and causes in the list of alarms move without a change of state; they are told anew this often.
ALARMS_AGAIN_S = 10.0


class Feed:
    """Everybody who listens, and the three rhythms.

    Args:
        source: where the plant is looked at.
        look: takes the picture of this moment.
        writer: makes what is large in a thread.
    """

    def __init__(self, source: Source, look: Callable[[], Look], writer: Executor) -> None:
        self._source = source
        self._look = look
        self._writer = writer
        self._listeners: set[Listener] = set()
        self._news = News()
        self._alarms_wake = asyncio.Event()
        self._is_closed = False
        self._faulty: set[str] = set()

    def __len__(self) -> int:
        return len(self._listeners)

    async def run(self) -> None:
        """Tell the news until cancelled."""
        try:
            async with asyncio.TaskGroup() as group:
                group.create_task(self._tell_cards())
                group.create_task(self._tell_alarms())
                group.create_task(self._beat())
        finally:
            self.close()

    def join(self) -> Listener | None:
        """One more page; None where there are too many, or the end is near."""
        if self._is_closed or len(self._listeners) >= MOST_LISTENERS:
            return None
        listener = Listener()
        self._listeners.add(listener)
        return listener

    def leave(self, listener: Listener) -> None:
        """That page is closed."""
        listener.close()
        self._listeners.discard(listener)

    def close(self) -> None:
        """End all streams: the daemon stops."""
        self._is_closed = True
        for listener in tuple(self._listeners):
            listener.close()

    async def next(self, listener: Listener) -> bytes:
        """What that page gets next; empty where nothing more comes."""
        await listener.wait()
        if listener.closed:
            return b""
        if not listener.is_behind:
            return listener.take()
        # From here on it hears everything: what comes while the picture is written is newer than the picture.
        listener.is_behind = False
        listener.take()
        told = await self._in_thread(partial(_written, "plant", whole.plant, self._look()))
        # A list of alarms that was begun before this picture may come after it; a fresh one follows.
        self._alarms_wake.set()
        return told

    def changed(self, names: Iterable[str]) -> None:
        """These collectors have something new."""
        self._news.changed(names)

    def alarms_changed(self) -> None:
        """Some alarm has changed its state."""
        self._alarms_wake.set()

    def happened(self, event: Event) -> None:
        """This event is in the journal."""
        if self._listeners:
            with self.guard("events"):
                self._offer(message("event", happening(event)))

    @contextlib.contextmanager
    def guard(self, what: str) -> Iterator[None]:
        """Keep a fault of ours within the page; ``what`` is told as not to be trusted while it lasts."""
        try:
            yield
        except Exception:  # whatever it is: who watches the filters must not fall over a picture of them
            if what not in self._faulty:
                log.exception("the page met a fault of its own what=%s", what)
            self._faulty.add(what)
        else:
            self._faulty.discard(what)

    def start_anew(self) -> None:
        """Another plan is in force: everybody gets the whole plant."""
        self._news = News()
        for listener in self._listeners:
            listener.fall_behind()

    async def _tell_cards(self) -> None:
        while True:
            await asyncio.sleep(CARDS_S)
            with self.guard("figures"):
                if self._listeners:
                    self._offer(b"".join(self._news.messages(self._look())))

    async def _tell_alarms(self) -> None:
        while True:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(CARDS_S if self._faulty else ALARMS_AGAIN_S):
                    await self._alarms_wake.wait()
            self._alarms_wake.clear()
            with self.guard("alarms"):
                if self._listeners:
                    self._offer(await self._in_thread(partial(_alarms, self._look())))
            await asyncio.sleep(ALARMS_S)

    async def _beat(self) -> None:
        while True:
            if self._listeners:
                found = [what for what in self._source.health().checks.values() if what != OK]
                found += [f"the page's own {what} cannot be made" for what in sorted(self._faulty)]
                at_utc_s = rounded(self._source.now().utc_s)
                self._offer(message("beat", {"at_utc_s": at_utc_s, "ok": not found, "why": "; ".join(found)}))
            await asyncio.sleep(BEAT_S)

    def _offer(self, told: bytes) -> None:
        for listener in self._listeners if told else ():
            listener.offer(told)

    async def _in_thread(self, make: Callable[[], bytes]) -> bytes:
        return await asyncio.get_running_loop().run_in_executor(self._writer, make)


def _written(event: str, make: Callable[[Look], object], look: Look) -> bytes:
    return message(event, make(look))


def _alarms(look: Look) -> bytes:
    return message("alarms", {"at_utc_s": rounded(look.now.utc_s), "alarms": whole.alarms(look)})
