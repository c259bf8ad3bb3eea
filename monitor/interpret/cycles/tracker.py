"""Tracker: where the collector is in its cycle, one digest after another."""

from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningSettings


class Tracker(NamedTuple):
    """Where the collector is in its cycle.

    Attributes:
        cleaning_since_s: scan second since which it is being cleaned; None while it is not, or nobody can tell.
        last: the newest whole cycle.
    """

    cleaning_since_s: float | None = None
    last: Cycle | None = None


BEGIN = Tracker()


def advance(settings: CleaningSettings, state: Tracker, digest: Digest) -> tuple[Tracker, Cycle | None]:
    """Take in one digest; and the cycle that it completed, if it did."""
    del settings, digest
    return state, None
