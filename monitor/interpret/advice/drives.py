"""Drives: what drove the DP in each recorded cycle, whatever the set points were.

Dust lays itself on the cloth and makes the DP rise; a pulse takes a share of the cake off one row and makes it
fall. Both are measured, cycle by cycle, so that the same dust and the same pulses can be tried with other set
points. Only usual cycles drive anything: one that was far longer, higher or lower than its neighbours tells of a
trouble and not of the set points, and is left as it was recorded.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from statistics import median
from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle

#: A cycle whose peak or residual lies further from the usual one than this share of the usual swing is odd.
_FAR = 0.5
#: So is one that took so many times as long as usual, cleaning or as a whole (our choice).
_LONG_CLEANING, _LONG_CYCLE = 3.0, 5.0
#: A cleaning is not odd for being so much longer, seconds: slow scans know it no better.
_SLACK_S = 30.0
#: The pull of one pulse is a mean over so many cycles to either side: pulses are few in one cleaning.
_NEIGHBOURS = 10


class Drive(NamedTuple):
    """One recorded cycle: how fast dust made the DP rise in it, and what a pulse pulled down.

    Attributes:
        begin_utc_s, end_utc_s: from the end of the cleaning before to the end of its own.
        first_inh2o: DP where it began.
        rise_inh2o_s: while nothing was cleaned.
        pull_inh2o: by how much one pulse brought the DP down around it; ``level_inh2o`` the mean DP of that.
    """

    begin_utc_s: float
    end_utc_s: float
    first_inh2o: float
    rise_inh2o_s: float
    pull_inh2o: float
    level_inh2o: float


class Usual(NamedTuple):
    """Two usual cycles that follow one another without a hole."""

    before: Cycle
    cycle: Cycle

    @property
    def rise_inh2o_s(self) -> float:
        """From the residual DP before to the peak, over the time of filtration."""
        return (self.cycle.peak_inh2o - self.before.residual_inh2o) / self.filtering_s

    @property
    def filtering_s(self) -> float:
        """How long nothing was cleaned."""
        return self.cycle.begin_s - self.before.end_s

    @property
    def pulled_inh2o(self) -> float:
        """What all pulses together took down: the fall that shows, and the rise that went on meanwhile."""
        return self.cycle.pulled_inh2o + self.rise_inh2o_s * self.cycle.cleaning_s


def usual(cycles: Sequence[Cycle], lows: Sequence[float] = ()) -> list[Usual]:
    """The usual cycles that follow another at once, oldest first.

    Args:
        cycles: all of them, oldest first.
        lows: the lowest DP since the end of the cycle before, one for each; empty where that is not known.
    """
    pairs = [
        Usual(before, cycle)
        for before, cycle in pairwise(cycles)
        if cycle.cycle_s is not None
        and cycle.pulses > 0
        and abs(cycle.end_s - cycle.cycle_s - before.end_s) < 1.0
        and cycle.begin_s > before.end_s
        and cycle.peak_inh2o > before.residual_inh2o
    ]
    low = {cycle.end_s: lowest for cycle, lowest in zip(cycles, lows, strict=False)}
    return _without_odd(pairs, low)


def _without_odd(pairs: Sequence[Usual], low: Mapping[float, float]) -> list[Usual]:
    if not pairs:
        return []
    peak = median(one.cycle.peak_inh2o for one in pairs)
    residual = median(one.cycle.residual_inh2o for one in pairs)
    cleaning_s = _LONG_CLEANING * median(one.cycle.cleaning_s for one in pairs) + _SLACK_S
    cycle_s = _LONG_CYCLE * median(one.cycle.end_s - one.before.end_s for one in pairs)
    far = _FAR * (peak - residual)
    return [
        one
        for one in pairs
        if abs(one.cycle.peak_inh2o - peak) <= far
        and abs(one.cycle.residual_inh2o - residual) <= far
        and abs(one.before.residual_inh2o - residual) <= far
        and residual - low.get(one.cycle.end_s, residual) <= far
        and one.cycle.cleaning_s <= cleaning_s
        and one.cycle.end_s - one.before.end_s <= cycle_s
    ]


def drives(found: Sequence[Usual]) -> tuple[Drive, ...]:
    """What drove each of them."""
    return tuple(
        Drive(
            one.before.end_utc_s,
            one.cycle.end_utc_s,
            one.before.residual_inh2o,
            one.rise_inh2o_s,
            *_pull(found[max(0, number - _NEIGHBOURS) : number + _NEIGHBOURS + 1]),
        )
        for number, one in enumerate(found)
    )


def _pull(neighbours: Sequence[Usual]) -> tuple[float, float]:
    """What one pulse took down, and at which mean DP."""
    pulses = sum(one.cycle.pulses for one in neighbours)
    level = sum(one.cycle.pulses * (one.cycle.peak_inh2o + one.cycle.residual_inh2o) / 2 for one in neighbours)
    return sum(one.pulled_inh2o for one in neighbours) / pulses, level / pulses
