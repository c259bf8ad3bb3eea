"""Unit: one device behind a link, what is asked of it, and whether it answers.

A unit of which nothing was answered is *set aside*: it is asked last, one such unit a scan and one request of
it, and ever more rarely, until it answers; then it is back at full rate at once. Its requests take turns in
this, so that a unit which answers some of them only is found out. Pure: times are passed in.
"""

import random
from collections.abc import Iterable
from itertools import groupby

from monitor.acquire.backoff import Backoff
from monitor.acquire.read_plan import plan_blocks
from monitor.acquire.requests import Request, request_for
from monitor.acquire.settings import ForbiddenGap, LinkPlan, LinkSettings
from monitor.acquire.silence import MOST_SILENT_S, Silence
from monitor.acquire.step import Step
from monitor.words import Block, BlockRead, Failure, Instant


class Unit:
    """One unit of one link.

    Attributes:
        requests: what is asked of it, the most trusted first: who was silent goes to the end.
        silence: how each of them fares, by the bytes that ask it.
        forbidden: what must not be read, not even as a proof.
        step: what it may still answer late (RTU framings).
        latest: the failure that ended the last visit which one ended.
        aside: why it is not asked at every scan; None while it answers anything.
        due_s: while aside, the scan second from which it may be asked again.
        asked_s: while aside, the scan second at which it was asked last.
    """

    def __init__(
        self, unit_id: int, requests: tuple[Request, ...], link: LinkSettings, dice: random.Random
    ) -> None:
        self.unit_id = unit_id
        self.requests = requests
        self.silence = {request.rtu: Silence(link, dice) for request in requests}
        self.forbidden: tuple[ForbiddenGap, ...] = ()
        self.step = Step()
        self.latest: Failure | None = None
        self.aside: Failure | None = None
        self.due_s = self.asked_s = 0.0
        self._in_vain = 0
        self._backoff = Backoff(link.scan_period_s, MOST_SILENT_S, dice)

    def failed(self, request: Request, failure: Failure, now_s: float, *, alive: bool) -> None:
        """A request (or a proof made of one) was not answered: it goes to the end, set aside.

        ``alive``: the unit answered something else in this visit; if not, it is set aside as a whole.
        """
        self.latest = failure
        silent = self._asked_as(request.block)
        self.requests = (*(each for each in self.requests if each is not silent), silent)
        self.silence[silent.rtu].begins(failure, now_s, alone=alive)
        if not alive:
            self.set_aside(failure, now_s)

    def _asked_as(self, block: Block) -> Request:
        """Return the request of every scan that a block is, or was made of."""
        at_address = [each for each in self.requests if each.block.address == block.address]
        of_table = [each for each in at_address if each.block.table is block.table]
        return (of_table or at_address or list(self.requests))[0]

    def set_aside(self, failure: Failure, now_s: float) -> None:
        """Nothing was answered: leave it alone for longer than the last time, once each request had its turn."""
        self.aside = self.latest = failure
        self.asked_s = now_s
        self._in_vain += 1
        first_round = self._in_vain < len(self.requests)
        self.due_s = now_s if first_round else now_s + self._backoff.wait_s()

    def answered(self) -> None:
        """It answers: back to full rate."""
        if self.aside is not None:
            self.aside = None
            self._in_vain = 0
            self._backoff.reset()
            for silence in self.silence.values():
                silence.is_open_again()

    def may_be_asked(self, now_s: float, real_now_s: float) -> bool:
        """Whether its turn has come again: by its backoff, and by the late answers it may still owe."""
        return (self.aside is None or now_s >= self.due_s) and real_now_s >= self.step.quiet_until_s

    def why_silent(self, request: Request) -> Failure | None:
        """Return why a request is left out of the scans, or None: it is not."""
        return self.silence[request.rtu].aside if self.aside is None else None

    def due_alone(self, now_s: float) -> Request | None:
        """Return the silent request of a unit that answers whose turn has come first, if any has."""
        waiting = [each for each in self.requests if self.why_silent(each) is not None]
        first = min(waiting, key=lambda each: self.silence[each.rtu].due_s, default=None)
        return None if first is None or self.silence[first.rtu].due_s > now_s else first

    def others_answer(self, request: Request) -> bool:
        """Whether it answers, and not only a certain request (of this unit or of another)."""
        return self.aside is None and any(
            silence.aside is None for asked, silence in self.silence.items() if asked != request.rtu
        )

    def ask_all_soon(self, now_s: float) -> None:
        """The way to it is new: what was silent may not be so any more."""
        self.due_s = min(self.due_s, now_s)
        for silence in self.silence.values():
            silence.due_s = min(silence.due_s, now_s)

    def carry_over(self, earlier: "Unit") -> None:
        """Take over what is known of the same unit under an earlier plan."""
        self.step = earlier.step
        self.latest = earlier.latest
        self.aside = earlier.aside
        self.due_s = earlier.due_s
        self.silence |= {asked: known for asked, known in earlier.silence.items() if asked in self.silence}
        last = {request.rtu: i for i, request in enumerate(earlier.requests)}
        self.requests = tuple(sorted(self.requests, key=lambda each: last.get(each.rtu, len(last))))

    def failed_reads(self, failure: Failure, at: Instant) -> tuple[BlockRead, ...]:
        """Return the reads of a scan that asked nothing."""
        return tuple(BlockRead(request.block, at, (), failure) for request in self.requests)

    def quiet_reads(self, failure: Failure, at: Instant) -> tuple[BlockRead, ...]:
        """Return the same of a unit that answers, but is left alone: what is silent has its own reason."""
        return tuple(
            BlockRead(request.block, at, (), self.why_silent(request) or failure) for request in self.requests
        )


def units_of(plan: LinkPlan, dice: random.Random, earlier: Iterable[Unit] = ()) -> tuple[Unit, ...]:
    """Return the units of a plan by rising identifier, each with what was known of it before."""
    known = {unit.unit_id: unit for unit in earlier}
    units = []
    for unit_id, blocks in groupby(plan_blocks(plan), key=lambda block: block.unit_id):
        unit = Unit(unit_id, tuple(map(request_for, blocks)), plan.link, dice)
        unit.forbidden = tuple(gap for gap in plan.forbidden if gap.unit_id == unit_id)
        if unit_id in known:
            unit.carry_over(known[unit_id])
        units.append(unit)
    return tuple(units)
