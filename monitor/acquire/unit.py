"""Unit: one device behind a link, what is asked of it, and whether it answers.

A unit that does not answer is *set aside*: it is asked last, one such unit a scan, and ever more rarely, until
it answers; then it is back at full rate at once. Pure: times are passed in.
"""

import random
from collections.abc import Iterable
from itertools import groupby

from monitor.acquire.backoff import Backoff
from monitor.acquire.read_plan import plan_blocks
from monitor.acquire.requests import Request, request_for
from monitor.acquire.settings import ForbiddenGap, LinkPlan
from monitor.acquire.step import Step
from monitor.words import BlockRead, Failure, Instant

#: A silent unit is asked at least this often, scan seconds (or once a scan, where scans are rarer).
MOST_SILENT_S = 60.0


class Unit:
    """One unit of one link.

    Attributes:
        requests: what one scan asks, in order.
        forbidden: what must not be read, not even as a proof.
        step: what it may still answer late (RTU framings).
        aside: why it is not asked at every scan; None while it answers.
        due_s: while aside, the scan second from which it may be asked again.
    """

    def __init__(self, unit_id: int, requests: tuple[Request, ...], period_s: float, dice: random.Random) -> None:
        self.unit_id = unit_id
        self.requests = requests
        self.forbidden: tuple[ForbiddenGap, ...] = ()
        self.step = Step()
        self.aside: Failure | None = None
        self.due_s = 0.0
        self._backoff = Backoff(period_s, MOST_SILENT_S, dice)

    def set_aside(self, failure: Failure, now_s: float) -> None:
        """It did not answer: leave it alone for longer than the last time."""
        self.aside = failure
        self.due_s = now_s + self._backoff.wait_s()

    def answered(self) -> None:
        """It answers: back to full rate."""
        if self.aside is not None:
            self.aside = None
            self._backoff.reset()

    def may_be_asked(self, now_s: float, real_now_s: float) -> bool:
        """Whether its turn has come again: by its backoff, and by the late answers it may still owe."""
        return now_s >= self.due_s and real_now_s >= self.step.quiet_until_s

    def carry_over(self, earlier: "Unit") -> None:
        """Take over what is known of the same unit under an earlier plan."""
        self.step = earlier.step
        self.aside = earlier.aside
        self.due_s = earlier.due_s

    def failed_reads(self, failure: Failure, at: Instant) -> tuple[BlockRead, ...]:
        """Return the reads of a scan that asked nothing."""
        return tuple(BlockRead(request.block, at, (), failure) for request in self.requests)


def units_of(plan: LinkPlan, dice: random.Random, earlier: Iterable[Unit] = ()) -> tuple[Unit, ...]:
    """Return the units of a plan by rising identifier, each with what was known of it before."""
    known = {unit.unit_id: unit for unit in earlier}
    units = []
    for unit_id, blocks in groupby(plan_blocks(plan), key=lambda block: block.unit_id):
        unit = Unit(unit_id, tuple(map(request_for, blocks)), plan.link.scan_period_s, dice)
        unit.forbidden = tuple(gap for gap in plan.forbidden if gap.unit_id == unit_id)
        if unit_id in known:
            unit.carry_over(known[unit_id])
        units.append(unit)
    return tuple(units)
