"""Falls: the residual DP lies lower all of a sudden, and stays there. New filters, or a torn bag?

New filters are put in while the fan stands still, so the figures are low from the first one after a stop of an
hour or more; they go well below anything the set in service showed in its last thirty days, and they stay there. A
bag that tears does so while air goes through it: the fall comes in the middle of a run, and then nobody can tell
from the DP alone whether it is a leak or new filters, so it is said to be uncertain. All limits are our choice: a
change that goes unnoticed costs one command, a change that never was loses the trend of months.
"""

from collections.abc import Sequence
from enum import Enum
from itertools import pairwise
from statistics import median
from typing import NamedTuple

#: So many days of running must be known before a fall can be seen.
LEAST_DAYS = 5
#: What the set in service showed lately: so many days.
LOOKED_BACK_DAYS = 30
#: A fall is at least this share of the lowest recent level, and this much, and so many times the usual scatter.
LEAST_SHARE = 0.25
LEAST_INH2O = 0.4
LEAST_SCATTERS = 4.0
#: It must last so long, seconds of running, and show in so many figures.
LASTS_S = 2 * 86400.0
LEAST_FIGURES = 6
#: Two figures in a row back at the usual level end it, or two and a tenth of all: it was a dip.
BACK_FIGURES = 2
#: One figure at the usual level after the stop may be an odd one; two say that the old filters are still there.
ODD_FIGURES = 1
#: With less than this, inH2O, no air goes through filters: a hose is off, not new filters.
LEAST_LEVEL_INH2O = 0.3
#: Cleaning on demand begins at one DP: most days within so much of it, and within so much of what the residual DP
#: moves. That it was moved itself: by so much.
PINNED_SHARE = 0.03
PINNED_BY_RESIDUAL = 0.5
MOVED_SHARE = 0.08


class Verdict(Enum):
    """What the fall was."""

    NOTHING = "nothing"
    NEW_FILTERS = "new_filters"
    UNCERTAIN = "uncertain"


class Fall(NamedTuple):
    """What is watched to see one.

    Attributes:
        line_inh2o: a figure under it is unusually low; None while too little is known.
        by_cycles: whether the figures are those of cycles, or else of quarters of an hour.
        usual: figures at the usual level since the last stop.
        low: figures under the line since the fall began; 0 while there is none.
        back: figures at the usual level in a row within it.
        odd: all figures at the usual level within it.
        since_utc_s, since_run_s: when it began.
        after_stop: whether it began with the first figures after a stop.
        lowest_inh2o: the lowest of its figures.
    """

    line_inh2o: float | None = None
    by_cycles: bool = True
    usual: int = 0
    low: int = 0
    back: int = 0
    odd: int = 0
    since_utc_s: float = 0.0
    since_run_s: float = 0.0
    after_stop: bool = False
    lowest_inh2o: float = 0.0


def stopped(fall: Fall) -> Fall:
    """The collector stood still for an hour or more, or may have."""
    return fall._replace(usual=0)


def drawn(fall: Fall, levels: Sequence[float], by_cycles: bool) -> Fall:
    """Draw the line anew, from the figures of the last days, oldest first."""
    return fall._replace(line_inh2o=_line_under(levels), by_cycles=by_cycles)


def _line_under(levels: Sequence[float]) -> float | None:
    """Where a fall begins; None while there are too few figures."""
    levels = levels[-LOOKED_BACK_DAYS:]
    if len(levels) < LEAST_DAYS:
        return None
    lowest = sorted(levels)[len(levels) // 10]
    scatter = 1.4826 * median(abs(now - before) for before, now in pairwise(levels))
    return lowest - max(LEAST_SHARE * lowest, LEAST_INH2O, LEAST_SCATTERS * scatter)


def look(fall: Fall, figure_inh2o: float, utc_s: float, run_s: float) -> Fall:
    """Take in one figure: the residual DP of a cycle, or the mean of a quarter of an hour."""
    if fall.line_inh2o is None:
        return fall
    if figure_inh2o >= fall.line_inh2o:
        return _usual(fall)
    if fall.low:
        return fall._replace(low=fall.low + 1, back=0, lowest_inh2o=min(fall.lowest_inh2o, figure_inh2o))
    after_stop = fall.usual <= ODD_FIGURES
    return Fall(fall.line_inh2o, fall.by_cycles, fall.usual, 1, 0, 0, utc_s, run_s, after_stop, figure_inh2o)


def judge(fall: Fall, run_s: float) -> Verdict:
    """What the fall is, once it has lasted."""
    if fall.low < LEAST_FIGURES or fall.back or run_s - fall.since_run_s < LASTS_S:
        return Verdict.NOTHING
    if fall.after_stop and fall.lowest_inh2o >= LEAST_LEVEL_INH2O:
        return Verdict.NEW_FILTERS
    return Verdict.UNCERTAIN


def start_moved(before: Sequence[tuple[float, float]], after: Sequence[float]) -> bool:
    """Whether cleaning used to begin at one DP, day after day, and now begins at another, lower one.

    New filters do not change where it begins; where it is cleaned by the clock there is no such DP: the peak goes
    up and down with the residual DP.

    Args:
        before: peak and residual DP of the days before, oldest first.
        after: peaks since.
    """
    before = before[-LOOKED_BACK_DAYS:]
    if len(before) < LEAST_DAYS or not after:
        return False
    peaks, residuals = [peak for peak, _ in before], [residual for _, residual in before]
    usual = median(peaks)
    most = min(PINNED_SHARE * usual, PINNED_BY_RESIDUAL * _spread(residuals))
    return _spread(peaks) <= most and median(after) < (1.0 - MOVED_SHARE) * usual


def _spread(levels: Sequence[float]) -> float:
    """How far eight of ten lie apart."""
    levels, tenth = sorted(levels), len(levels) // 10
    return levels[-1 - tenth] - levels[tenth]


def _usual(fall: Fall) -> Fall:
    back, odd = fall.back + 1, fall.odd + 1
    if fall.low and back < BACK_FIGURES and odd <= BACK_FIGURES + fall.low // 10:
        return fall._replace(back=back, odd=odd)
    return Fall(fall.line_inh2o, fall.by_cycles, fall.usual + (odd if fall.low else 1))
