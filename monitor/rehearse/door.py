"""Door: recorded numbers enter the core here, and nowhere else in this room.

The very ``turn`` that runs live is asked, with the very plans of the site file. Only the points differ, for a
recording holds engineering values and no register words: each is read as it stands, and everything after that
(range, loop current, frozen, damping, staleness) is as the site file says.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import cast

from monitor.acquire.traces.trace import Cell
from monitor.condition import scaling
from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.condition.registers import Encoding, RegisterFormat
from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.scan import stretch, turn
from monitor.scan.settings import CollectorPlan, PlantPlan
from monitor.scan.state import CollectorState
from monitor.scan.stretch import Rows, Taken
from monitor.words import Block, BlockRead, Event, Failure, Instant, PointId, Quality, Role, Slot, Table, UnitScan

#: A ``Tick`` at each whole second between two rows, as the daemon has four.
TICK_S = 1.0
#: As the site file's own defaults: a reading is stale after three steps, a number still after ten.
STALE_STEPS, STILL_STEPS = 3, 10

#: One entry of this form is handed through by ``decode`` as it stands, also where it is no whole number.
_AS_IT_STANDS = RegisterFormat(Encoding.UINT16)


def for_recorded(plan: CollectorPlan, steps_s: Mapping[Role, float]) -> CollectorPlan:
    """The plan for numbers that are engineering values already.

    Args:
        plan: as the site file has it.
        steps_s: how far the recorded readings of a point lie apart; rarer ones turn stale and stand still later.
    """
    points = {
        role: replace(point, channel=_recorded(point.channel, steps_s.get(role, 0.0)))
        for role, point in plan.points.items()
    }
    return replace(plan, points=points)


def _recorded(channel: AnalogChannel | DiscreteChannel, step_s: float) -> AnalogChannel | DiscreteChannel:
    stale_after_s = max(channel.stale_after_s, STALE_STEPS * step_s)
    if isinstance(channel, DiscreteChannel):
        return DiscreteChannel(stale_after_s=stale_after_s)
    still_s = channel.frozen_after_s
    return replace(
        channel,
        format=_AS_IT_STANDS,
        scaling=_engineering(channel.scaling),
        frozen_after_s=None if still_s is None else max(still_s, STILL_STEPS * step_s),
        stale_after_s=stale_after_s,
    )


def _engineering(live: LinearScaling | LoopScaling) -> LinearScaling | LoopScaling:
    """A loop stays a loop, so that NE 43 judges the current that belongs to each value."""
    if isinstance(live, LinearScaling):
        return LinearScaling()
    end = live.full_scale_counts
    return LoopScaling(
        counts_at_4_ma=live.value_at_4_ma,
        counts_at_20_ma=live.value_at_20_ma,
        value_at_4_ma=live.value_at_4_ma,
        value_at_20_ma=live.value_at_20_ma,
        full_scale_counts=None if end is None else scaling.to_value(live, end),
    )


class Door:
    """One collector behind the core.

    Args:
        plan: from ``for_recorded``.
        begins_utc_s: the moment of the first row; the scan clock begins there at 0.
    """

    def __init__(self, plan: CollectorPlan, begins_utc_s: float, *, exact: bool) -> None:
        self.plan = plan
        self.begins_utc_s = begins_utc_s
        self._exact = exact
        self._plant = PlantPlan(collectors={plan.name: plan})
        self._state = turn.begin(self._plant, Instant(0.0, begins_utc_s))
        self._ticked_s = 0.0
        self._blocks = {role: _block(plan.name, role) for role in plan.points}

    @property
    def state(self) -> CollectorState:
        """The collector as it stands."""
        return self._state.collectors[self.plan.name]

    @property
    def damped_inh2o(self) -> float | None:
        """The damped DP; None while it cannot be trusted."""
        dp = self.state.readings[Role.DP]
        return dp.damped if dp.quality is Quality.GOOD else None

    def row(self, at: Instant, cells: Mapping[Role, Cell]) -> tuple[Event, ...]:
        """One row through the core, after the time before it."""
        reads = [self._read(role, cell, at) for role, cell in cells.items() if cell is not None]
        return self._turn(UnitScan("recording", 0, tuple(reads)), at) if reads else ()

    def _read(self, role: Role, cell: float | Failure, at: Instant) -> BlockRead:
        if isinstance(cell, Failure):
            return BlockRead(self._blocks[role], at, failure=cell)
        return BlockRead(self._blocks[role], at, words=cast("tuple[int, ...]", (cell,)))

    def next_tick(self, before_s: float) -> Instant | None:
        """The next whole second before that moment that may matter; None where there is none.

        With ``exact`` every whole second matters; without, those in which time alone cannot do anything are left
        out.
        """
        next_s = math.floor(self._ticked_s) + TICK_S
        if next_s >= before_s:
            return None
        if not self._exact:
            quiet_s = stretch.quiet_until_s(self.plan, self.state)
            if quiet_s >= before_s:
                return None
            next_s = max(next_s, math.ceil(quiet_s - 1e-6) if quiet_s > 0.0 else next_s)
        return Instant(next_s, self.begins_utc_s + next_s) if next_s < before_s else None

    def tick(self, at: Instant) -> tuple[Event, ...]:
        """Time passed, and nothing else."""
        return self._turn(turn.Tick(), at)

    def stretch(self, at_s: Sequence[float], utc_s: Sequence[float], cells: Mapping[Role, list[Cell]]) -> Taken:
        """As many rows as bring nothing, at once; there must be no failure among the cells."""
        numbers = cast("Mapping[Role, list[float | None]]", cells)
        taken = stretch.take(self.plan, self.state, Rows(at_s, utc_s, numbers))
        if taken.rows:
            self._state = replace(self._state, collectors={self.plan.name: taken.state})
            self._ticked_s = at_s[taken.rows - 1]
        return taken

    def _turn(self, what: UnitScan | turn.Tick, at: Instant) -> tuple[Event, ...]:
        outcome = turn.turn(self._plant, self._state, what, at)
        self._state = outcome.onto(self._state)
        self._ticked_s = at.mono_s
        return outcome.events


def _block(collector: str, role: Role) -> Block:
    return Block(0, Table.INPUT_REGISTER, 0, 1, (Slot(PointId(collector, role), 0, 1),))
