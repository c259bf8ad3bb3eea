"""Usual: the peak, the residual and the length of the last cleanings, by which a fall of the DP is judged."""

from collections.abc import Sequence
from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.settings import CleaningSettings

KEPT = 7
ENOUGH = 3  #: So many cleanings tell what is usual.
UNKNOWN_SWING_INH2O = 0.25  #: Start and stop are seldom closer (common practice: an inch apart; no source).


class Usual(NamedTuple):
    """What the last cleanings were like.

    Attributes:
        peaks, residuals, lengths_s: of the last ``KEPT``.
        peak, residual, length_s: their medians; they mean something from ``ENOUGH`` cleanings on.
        refused: falls in a row that were refused for their levels alone.
    """

    peaks: tuple[float, ...] = ()
    residuals: tuple[float, ...] = ()
    lengths_s: tuple[float, ...] = ()
    peak: float = 0.0
    residual: float = 0.0
    length_s: float = 0.0
    refused: int = 0

    @property
    def is_known(self) -> bool:
        """Whether enough cleanings were seen."""
        return len(self.peaks) >= ENOUGH


NOTHING = Usual()
NEW = Usual(refused=ENOUGH)  #: What was usual is so no more, and the set points do not say what is.


def learn(usual: Usual, cycle: Cycle) -> Usual:
    """Take in one more cleaning."""
    peaks = (*usual.peaks, cycle.peak_inh2o)[-KEPT:]
    residuals = (*usual.residuals, cycle.residual_inh2o)[-KEPT:]
    lengths_s = (*usual.lengths_s, cycle.cleaning_s)[-KEPT:]
    refused = usual.refused if len(peaks) < ENOUGH <= usual.refused else 0
    return Usual(peaks, residuals, lengths_s, _median(peaks), _median(residuals), _median(lengths_s), refused)


def refuse(usual: Usual) -> Usual:
    """A fall that looked like a cleaning was refused for its levels; three in a row, and the usual has changed."""
    return NEW if usual.refused >= ENOUGH - 1 else usual._replace(refused=usual.refused + 1)


def swing(settings: CleaningSettings, usual: Usual) -> float:
    """By how much a cleaning brings the DP down, as far as that is known, inH2O, above 0."""
    if usual.is_known:
        return max(0.05, usual.peak - usual.residual)
    if settings.start_inh2o is not None and settings.stop_inh2o is not None:
        return max(0.05, settings.start_inh2o - settings.stop_inh2o)
    return UNKNOWN_SWING_INH2O


def levels(settings: CleaningSettings, usual: Usual) -> tuple[float, float] | None:
    """Usual peak and residual, or the set points, or None where neither is known."""
    if usual.is_known:
        return usual.peak, usual.residual
    if usual.refused >= ENOUGH:
        return None
    if settings.start_inh2o is not None and settings.stop_inh2o is not None:
        return settings.start_inh2o, settings.stop_inh2o
    return None


def _median(values: Sequence[float]) -> float:
    """The middle one, or the lower of the two."""
    return sorted(values)[(len(values) - 1) // 2]
