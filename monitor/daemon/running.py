"""Running: the daemon's life. Build, start, join, reload, stop; the only file that knows everybody.

links ─┐
ticks ─┼→ inbox → core (one turn each) ┬→ store (one transaction)
people ┘                               └→ telling, once the store has it
"""

import asyncio
import gc
import logging
from collections.abc import Callable, Iterable
from pathlib import Path

from monitor import __version__
from monitor.clock import Clock
from monitor.daemon.annunciating import Annunciating
from monitor.daemon.answering import Answering
from monitor.daemon.beginning import end_strangers, store_trouble
from monitor.daemon.core import Core
from monitor.daemon.darkening import darken, entries
from monitor.daemon.figuring import Figuring
from monitor.daemon.inbox import Inbox
from monitor.daemon.links import Links
from monitor.daemon.reload import tags_of
from monitor.daemon.snapshot import keys_gone
from monitor.daemon.tasks import Tasks
from monitor.daemon.telling import Figures, Telling
from monitor.errors import StoreError
from monitor.figures import JudgeFigures
from monitor.remember.store import Store
from monitor.scan.turn import Tick
from monitor.site.plan import SitePlan
from monitor.tell.watchdog import Watchdog
from monitor.words import Event, EventKind

log = logging.getLogger(__name__)

#: Delays are looked at this often, scan seconds; they fire late by at most this, and never early.
TICK_S = 0.25
#: Inputs judged before the loop may turn to something else; each may be a whole unit's readings.
BATCH = 10
#: Collectors whose windows are written down at each whole second; a thousand take five minutes.
WINDOWS_A_SECOND = 4
#: A judge that has not come round for this long is stuck, real seconds.
JUDGE_LIMIT_S = 10.0


class Daemon:
    """One site, watched until told to stop.

    Args:
        plan: the checked site file.
        store: open; the daemon closes it.
        clock: going on from ``store.scan_s``.
        watchdog: the service manager, if there is one.
        watch: called with the names of the collectors whose told state changed (the demonstration's screen).
    """

    def __init__(
        self,
        plan: SitePlan,
        store: Store,
        clock: Clock,
        watchdog: Watchdog | None = None,
        watch: Callable[[Iterable[str]], None] | None = None,
    ) -> None:
        self.plan = plan
        self.store = store
        self.clock = clock
        self.failure: BaseException | None = None
        self._watch = watch
        self._watchdog = watchdog or Watchdog(None)
        self._stop = asyncio.Event()
        self._reloading = asyncio.Lock()
        self.inbox = Inbox()
        self.figuring = Figuring(store, clock)
        self.answering = Answering(self.inbox.put, lambda: self.core.plan.commands)
        self.core = Core(store, clock.now(), self._changed, self.answering.answered, self._happened)
        self._tasks = Tasks(self._failed)
        self.links = Links(clock, self._tasks, self.inbox.put)
        self.annunciating = Annunciating(None, self.links.set_outputs, clock)
        self.telling = Telling(
            store,
            clock,
            self.core,
            self._tasks,
            Figures(self.links.figures, self.judge_figures, self.figuring.figures),
            self.answering.submit,
            self.annunciating,
            self.inbox.put,
        )

    async def run(self) -> None:
        """Start, watch until ``stop`` (or a fault of ours, which is raised again), and end cleanly."""
        async with self._reloading:  # a changed site file waits until this one is watched
            await self._start(asyncio.get_running_loop())
        await self._stop.wait()
        await self._end()
        if self.failure is not None:
            raise self.failure

    def stop(self) -> None:
        """Ask for the end; ``run`` returns within two seconds with everything committed."""
        self._stop.set()

    async def reload(self, plan: SitePlan) -> None:
        """Go on with another site file. Untouched collectors and links notice nothing."""
        async with self._reloading:
            if self._stop.is_set():
                return
            self._watchdog.reloading()
            before = self.plan
            self._take_over(plan)
            if entries(before) not in (None, entries(plan)) and (
                left := await darken(self.annunciating, self.links.figures)
            ):
                self._journal_system("annunciator_left", left)
            # Between two plans nothing is written: what the old one named must not be any more.
            self.annunciating.follow(None)
            await self.links.follow(plan.links)
            self._follow_annunciator(plan)
            trouble = await self.telling.follow(plan)
            self._journal_system("reloaded", f"site file reloaded: watching {_counted(len(plan.collectors))}")
            if trouble:
                self._journal_system(
                    "http_not_moved", f"the changed site file is in force but for http: {trouble}"
                )
            self._watchdog.ready()

    async def _start(self, loop: asyncio.AbstractEventLoop) -> None:
        self.core.restore(self.plan.plant, self.clock.now())
        self.store.on_committed(self._passed_on_to(loop))
        await self.telling.start(self.plan)
        self._journal_system("started", f"cakewatch {__version__} started watching {self.plan.name}")
        if trouble := store_trouble(self.store):
            self._journal_system("store_set_aside", trouble)
        if trouble := await self.telling.open_control(self.plan.store.folder):
            self._journal_system("control_not_open", trouble)
        end_strangers(self.core, self.store, self.telling, self.clock.now())
        self.store.snapshots = {}  # all taken over by now; for a thousand collectors they are megabytes
        _settle_memory()
        self._tasks.start("judge", self._judge())
        self._tasks.start("ticks", self._tick())
        self._tasks.start("figures", self.figuring.refill())
        await self.links.follow(self.plan.links)
        self._follow_annunciator(self.plan)
        self._watchdog.ready()
        log.info(
            "watching site=%r collectors=%d links=%d",
            self.plan.name,
            len(self.plan.collectors),
            len(self.plan.links),
        )

    def _take_over(self, plan: SitePlan) -> None:
        now = self.clock.now()
        tags = tags_of(self.core.plan)
        forgotten = keys_gone(self.core.plan, plan.plant)
        ended = self.core.replace_plan(plan.plant, now)
        self.core.end_alarms(ended, forgotten, now)
        self.telling.forget(tags - tags_of(plan.plant))
        self.plan = plan

    def _follow_annunciator(self, plan: SitePlan) -> None:
        settings = plan.annunciator
        self.annunciating.follow(settings, () if settings is None else plan.links[settings.link].outputs)

    def refuse_reload(self, file: Path, problems: int) -> None:
        """Say that a changed site file is wrong and that the old one stays in force."""
        self._journal_system(
            "reload_refused",
            f"site file {file.name} was not taken: it has {problems} problem{'' if problems == 1 else 's'} "
            "(cakewatch check names them); watching goes on with the old one",
        )

    def judge_figures(self) -> JudgeFigures:
        """How the judge is getting on."""
        return JudgeFigures(
            turned_at=self.core.turned_at,
            turn_limit_s=JUDGE_LIMIT_S * self.clock.speed,
            waiting=len(self.inbox),
            turns=self.core.turns,
            dropped=self.inbox.dropped,
        )

    async def _judge(self) -> None:
        while True:
            for what in await self.inbox.take(BATCH):
                self.core.take(what, self.clock.now())
            # A full inbox must not keep the links from the loop.
            await asyncio.sleep(0)

    async def _tick(self) -> None:
        """Let time pass for the judge; write down now and then what a power cut must not take."""
        ticks, moving = 0, True
        while True:
            self.inbox.put(Tick())
            ticks += 1
            if ticks % 4 == 0:
                self._keep(ticks // 4)
                moving = self.telling.health().is_moving
                if moving:
                    self._watchdog.alive()
            self.annunciating.beat(self.clock.now(), moving)
            await self.clock.sleep(TICK_S)

    def _keep(self, second: int) -> None:
        now = self.clock.now()
        if self.core.is_counting() or second % 10 == 0:
            self.store.remember({}, now.mono_s)
        self.core.keep_some_windows(WINDOWS_A_SECOND, now)
        unwritten = [name for link in self.links.figures().values() for name in link.unwritten]
        if trouble := self.annunciating.trouble(unwritten, now.mono_s):
            self._journal_system(*trouble)

    def _changed(self, names: Iterable[str]) -> None:
        self.telling.changed(names)
        if self._watch is not None:
            self._watch(names)

    def _happened(self, event: Event) -> None:
        """What must be heard of at once, though it is no alarm's state."""
        self.figuring.happened(event)
        self.telling.paging.happened(event)
        if event.happened == "silenced":
            self.annunciating.silence()
        elif event.happened == "tested":
            self.annunciating.test()

    def _passed_on_to(self, loop: asyncio.AbstractEventLoop) -> Callable[[int], None]:
        """Hand the store's word over from its thread; after the loop has ended nobody is left to hear it."""

        def committed(seq: int) -> None:
            if not loop.is_closed():
                loop.call_soon_threadsafe(self._committed, seq)

        return committed

    def _committed(self, seq: int) -> None:
        self.telling.committed(seq, self.core.committed(seq))
        self.telling.links_changed()
        self.answering.committed(seq)

    def _failed(self, error: BaseException) -> None:
        self.failure = self.failure or error
        self._stop.set()

    def _journal_system(self, happened: str, text: str) -> None:
        now = self.clock.now()
        event = Event(kind=EventKind.SYSTEM, happened=happened, at_utc_s=now.utc_s, text=text)
        log.info("%s", text)
        self.core.journal([event], now)

    async def _end(self) -> None:
        """Links first, then what they brought is judged, journaled and told; the store last."""
        self._watchdog.stopping()
        await self._tasks.end(*[f"link {name}" for name in self.links.figures()], within_s=0.5)
        await self._tasks.end("ticks", "judge", within_s=0.2)
        await self._judge_the_rest()
        self._journal_system(
            "stopped",
            "cakewatch stopped watching, as it was told to"
            if self.failure is None
            else "cakewatch stopped after a fault of its own",
        )
        self.core.keep_everything(self.clock.now())
        try:
            await self.store.flush()
        except StoreError as error:
            # Stopping goes on: what the disk would not take is said here and was counted all along.
            log.error("not everything was written before the end why=%r", str(error))
        await self.telling.stop()
        await self._tasks.end(within_s=0.2)
        await self.store.close()

    async def _judge_the_rest(self) -> None:
        try:
            while len(self.inbox):
                for what in await self.inbox.take():
                    self.core.take(what, self.clock.now())
        except Exception as error:  # met once more on the way out: what was judged must still be written down
            log.exception("the last inputs could not be judged")
            self._failed(error)


def _counted(collectors: int) -> str:
    return f"{collectors} collector{'' if collectors == 1 else 's'}"


def _settle_memory() -> None:
    """Take what was made so far out of the garbage collector's sight.

    Plans and windows live as long as the daemon. Looking through those of a thousand collectors over and over
    held the loop for 40 ms at a time.
    """
    gc.collect()
    gc.freeze()
