"""Looking: what is usual, and what is not, one digest after another."""

from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.tracker import Tracker
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningSettings
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Clue, Sign


class Looking(NamedTuple):
    """What is remembered of the collector's usual, and what shows now.

    Attributes:
        signs: the early warnings that stand now, each with the figures that show it.
    """

    signs: tuple[tuple[Sign, Clue], ...] = ()


BEGIN = Looking()


def advance(
    settings: CleaningSettings, state: Looking, digest: Digest, tracker: Tracker, cycle: Cycle | None
) -> Looking:
    """Take in one digest, where the tracker stands after it, and the cycle that it completed, if it did."""
    del settings, digest, tracker, cycle
    return state


def symptoms(state: Looking) -> Symptoms:
    """What shows now (without ``reason``, ``others`` and the trend's slope, which others know)."""
    del state
    return Symptoms()
