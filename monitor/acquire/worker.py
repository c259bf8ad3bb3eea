"""Worker: keeps one link read, scan after scan, whatever the devices on it do.

A scan begins every ``scan_period_s`` (start to start, on the scan clock); one that overran is followed at once
by the next, never by two. Each unit is delivered as soon as it was visited. Silent units come last, and the
first of them that is still silent ends the probing, so together they cost the others one timeout a scan. At
the very end one request that is silent alone is tried, of all units that answer.

A link is *connected* from the first request whose outcome was not the loss of the connection: an answer, or a
timeout with the connection still standing (that is a silent unit on a sound link). A peer that accepts and
closes is never connected, and each such connection counts as a failed one: waits between attempts grow from
0.25 s to 5 s and are reset by a connection alone that brought a reply and still stands at the next scan. A peer
that closes at one request and answers others is reconnected at once, once a scan, and that request is set
aside. The first state is always told, then the changes only.

The outputs of the plan are written after a scan, or in the rest before the next (``outputs``).
"""

import asyncio
import random
from collections.abc import Mapping

from monitor.acquire.backoff import Backoff
from monitor.acquire.connection import Connection, hung_up, not_yet, place_of
from monitor.acquire.conversation import visit
from monitor.acquire.news import Deliver, News
from monitor.acquire.outputs import Outputs
from monitor.acquire.requests import Request
from monitor.acquire.settings import LinkPlan
from monitor.acquire.tally import Tally
from monitor.acquire.turn_limit import turn_limit_s
from monitor.acquire.unit import Unit, units_of
from monitor.acquire.wake import Wake
from monitor.clock import Clock, real_s
from monitor.figures import LinkFigures
from monitor.words import Failure, Instant

RECONNECT_FIRST_S = 0.25
RECONNECT_MOST_S = 5.0
#: While it rests the worker comes round at least this often, real seconds: health must not wait for an hour.
REST_SLICE_S = 5.0


class LinkWorker:
    """One link's worker: ``asyncio.create_task(worker.run())``, and cancel it to end it.

    Args:
        plan: what to read, where.
        clock: gives the stamps and the pace; the timeouts of the link are real seconds.
        deliver: takes each outcome; must return at once and must not raise.
        rng: dice for the jitter.
    """

    def __init__(
        self, plan: LinkPlan, *, clock: Clock, deliver: Deliver, rng: random.Random | None = None
    ) -> None:
        self._dice = rng or random.Random()  # noqa: S311 - jitter, no secret
        self._plan = self._next_plan = plan
        self._clock = clock
        self._news = News(plan.link.name, clock, deliver)
        self._units = units_of(plan, self._dice)
        self._tally = Tally(plan.link.name)
        self._outputs = Outputs(plan, clock, self._tally, self._dice)
        self._reconnect = Backoff(RECONNECT_FIRST_S, RECONNECT_MOST_S, self._dice)
        self._connection: Connection | None = None
        self._opening: asyncio.Task[None] | None = None
        self._down = not_yet(self._plan.link)
        self._tried = self._reopened = False
        self._wake = Wake()
        self._turned_at = clock.now()
        self._due_s = self._turned_at.mono_s

    async def run(self) -> None:
        """Read the link until cancelled; its connection is closed then."""
        try:
            while True:
                await self._turn()
                await self._rest()
        finally:
            await self._close()

    def replan(self, plan: LinkPlan) -> None:
        """Read by a new plan from the next scan on; the connection stays if it leads to the same place.

        From now on no output of the old plan is written that is not in the new one, too.
        """
        if plan != self._next_plan:
            self._next_plan = plan
            self._outputs.follow(plan)
            self._wake.for_turn()

    def set_outputs(self, values: Mapping[str, int]) -> None:
        """Say what outputs of the latest plan shall show, each a bit or a word; raises as ``Outputs.want``."""
        if self._outputs.want(values):
            self._wake.for_writing()

    def figures(self) -> LinkFigures:
        """Return what the worker counted about itself."""
        return self._tally.figures(
            connected=bool(self._news.up),
            turned_at=self._turned_at,
            turn_limit_s=turn_limit_s(self._plan.link, self._units, REST_SLICE_S) * self._clock.speed,
            silent_units=tuple(unit.unit_id for unit in self._units if unit.aside is not None),
            unwritten=self._outputs.unwritten(),
        )

    async def _turn(self) -> None:
        self._wake.silence()
        self._turned_at = self._clock.now()
        await self._adopt_plan()
        self._plan_next_start(self._turned_at.mono_s)
        if self._connection is not None and not self._connection.is_open:
            self._drop(hung_up(self._plan.link))
        elif self._connection is not None:
            await self._scan(self._connection)
            self._outputs.begin_scan()
            await self._write()
        elif self._opening is not None:
            if self._opening.done():
                # Without a connection it ends by a fault of ours alone; unseen, the link would stay down for ever.
                self._opening.result()
            self._news.all_failed(self._units, self._down)
        if self._connection is None and self._opening is None:
            self._opening = asyncio.create_task(self._open(), name=f"open {self._plan.link.name}")

    def _plan_next_start(self, now_s: float) -> None:
        period_s = self._plan.link.scan_period_s
        begun_s = min(self._due_s, now_s)
        self._due_s = begun_s + period_s if now_s - begun_s < period_s else now_s + period_s

    async def _rest(self) -> None:
        """Wait for the next start, or for something to do before it. Always lets others run."""
        await asyncio.sleep(0)
        while not self._wake.turn_due:
            self._turned_at = self._clock.now()
            left_s = (self._due_s - self._turned_at.mono_s) / self._clock.speed
            if left_s <= 0:
                return
            if not await self._write(left_s):
                await self._wake.rest(min(left_s, REST_SLICE_S))

    async def _write(self, spare_s: float = 0.0) -> bool:
        """Write what is due of the outputs; return whether anything was."""
        connection = self._connection
        if connection is None or not await self._outputs.write(connection, self._plan, self._units, spare_s):
            return False
        if connection.is_open:
            self._come_up()
        if connection.is_open or connection.proven:
            # Who hangs up at a write and answers the reads is not lost: a fresh one is opened at once.
            await self._keep_usable(connection)
        else:
            self._drop(hung_up(self._plan.link))
        return True

    async def _scan(self, connection: Connection) -> None:
        self._tally.scans += 1
        self._reopened = False
        if connection.proven:
            self._reconnect.reset()
        began = self._clock.now()
        aside = sorted((unit for unit in self._units if unit.aside), key=lambda unit: (unit.due_s, unit.asked_s))
        for unit in [unit for unit in self._units if not unit.aside]:
            if not unit.may_be_asked(began.mono_s, real_s()):
                self._news.reads(unit, unit.quiet_reads(unit.latest or self._down, began))
            elif not await self._visit(unit):
                return
        if await self._try_silent_units(aside, began):
            await self._try_silent_request(began)

    async def _try_silent_units(self, aside: list[Unit], began: Instant) -> bool:
        """Ask them in turn until one is still silent; return whether the connection stands."""
        trying = True
        for unit in aside:
            if trying and unit.may_be_asked(began.mono_s, real_s()):
                if not await self._visit(unit):
                    return False
                trying = unit.aside is None
            elif unit.aside is not None:
                self._news.reads(unit, unit.failed_reads(unit.aside, began))
        return True

    async def _try_silent_request(self, began: Instant) -> None:
        """Ask the one whose turn has come first, of all units that answer and owe nothing."""
        for unit in self._units:
            ready = unit.may_be_asked(began.mono_s, real_s()) and not (unit.aside or unit.step.lost(real_s()))
            if ready and (request := unit.due_alone(began.mono_s)):
                await self._visit(unit, request)
                return

    async def _visit(self, unit: Unit, request: Request | None = None) -> bool:
        """Visit one unit, for one request or all; return whether the connection stands."""
        if self._connection is None:
            return False
        was_aside, link = unit.aside is not None, self._plan.link
        seen = await visit(self._connection, unit, link, self._clock, self._tally, self._reopen, request)
        if was_aside != (unit.aside is not None):
            self._news.unit(unit)
        if not seen.connection.is_open:
            # The link first, so that its loss explains the points; what was read before it, then all as bad.
            failure = seen.loss or hung_up(self._plan.link)
            self._go_down(failure)
            self._news.reads(unit, seen.reads)
            self._drop(failure)
            return False
        self._come_up()
        self._news.reads(unit, seen.reads)
        await self._keep_usable(seen.connection)
        return self._connection is not None

    async def _open(self) -> None:
        """Try until a connection stands; one attempt at a time."""
        while True:
            await asyncio.sleep(self._reconnect.wait_s() if self._tried else 0.0)
            self._tried = True
            connection = Connection(self._plan.link, self._wake.for_turn)
            failure = await connection.open()
            if failure is None:
                self._take(connection)
                return
            self._tally.fail(failure)
            news = self._news.up is not False
            self._go_down(failure)
            if news:
                self._news.all_failed(self._units, failure)

    def _take(self, connection: Connection) -> None:
        self._connection = connection
        self._opening = None
        now_s = self._clock.now().mono_s
        for unit in self._units:
            unit.ask_all_soon(now_s)
        self._outputs.forget_written()
        self._wake.for_turn()

    async def _keep_usable(self, connection: Connection) -> None:
        """Close a connection whose next answer could not be trusted, and open a fresh one."""
        if not connection.usable and (failure := await self._open_instead(connection)):
            self._drop(failure)

    async def _reopen(self, request: Request, unit_shows: bool) -> Connection | None:
        """Open a fresh connection after one was closed at a request, if that request must be the cause."""
        closed = self._connection
        witnesses = [each for each in self._units if unit_shows or each.unit_id != request.block.unit_id]
        others = any(each.others_answer(request) for each in witnesses)
        if closed is None or self._reopened or not closed.proven or not others:
            return None
        self._reopened = True
        return self._connection if await self._open_instead(closed) is None else None

    async def _open_instead(self, connection: Connection) -> Failure | None:
        connection.close()
        fresh = Connection(self._plan.link, self._wake.for_turn)
        failure = await fresh.open()
        if failure is None:
            self._connection = fresh
            if self._next_plan is self._plan:
                self._wake.silence()  # it rang for the loss of the one before
        else:
            self._tally.fail(failure)
        return failure

    def _drop(self, failure: Failure) -> None:
        """The connection is gone: every point of the link is bad from now on."""
        if self._connection is not None:
            self._connection.close()
        self._connection = None
        self._go_down(failure)
        self._news.all_failed(self._units, failure)

    def _go_down(self, failure: Failure) -> None:
        self._down = failure
        self._news.connection(up=False, detail=failure.detail)

    def _come_up(self) -> None:
        self._news.connection(up=True, detail=f"connected to {place_of(self._plan.link)}")

    async def _close(self) -> None:
        opening, self._opening = self._opening, None
        if opening is not None:
            opening.cancel()
            await asyncio.wait([opening])
        if self._connection is not None:
            self._connection.close()
            self._connection = None
            await asyncio.sleep(0)  # the transport closes its socket in the next turn of the loop

    async def _adopt_plan(self) -> None:
        plan, before = self._next_plan, self._plan.link
        if plan is self._plan:
            return
        self._plan = plan
        moved = (plan.link.protocol, plan.link.where) != (before.protocol, before.where)
        self._units = units_of(plan, self._dice, () if moved else self._units)
        if moved:
            await self._close()
            self._news.up = None
            self._tried = False
            self._down = not_yet(self._plan.link)
