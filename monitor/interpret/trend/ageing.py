"""Ageing: the residual DP day by day since the filters were put in."""

from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.digest import Digest
from monitor.interpret.settings import FilterSettings


class Ageing(NamedTuple):
    """What is known of the set of filters in service.

    Attributes:
        since_utc_s: since when it is in service, as told, noticed, or first seen.
        noticed: whether a change of the set was noticed in the curve by itself (nobody told).
    """

    since_utc_s: float | None = None
    noticed: bool = False


BEGIN = Ageing()


def advance(settings: FilterSettings, state: Ageing, digest: Digest, cycle: Cycle | None) -> Ageing:
    """Take in one digest, and the cycle that it completed, if it did."""
    del settings, digest, cycle
    return state


def filters_changed(state: Ageing, utc_s: float) -> Ageing:
    """Begin anew: somebody said that a new set was put in at that moment (Unix seconds)."""
    del state
    return Ageing(since_utc_s=utc_s)
