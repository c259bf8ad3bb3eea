"""Days: one robust figure of the residual DP for each day of running.

Two figures are kept side by side and never mixed in one trend: the median residual DP of the cleaning cycles, and
the low end of the running DP, which stands in for it where the collector is cleaned by the clock and no sawtooth
shows. A day is 24 hours of running, however many of the calendar that takes.
"""

from collections.abc import Sequence
from statistics import median
from typing import NamedTuple

from monitor.interpret.settings import DAY_S

#: The running DP is gathered to one mean for each quarter of an hour.
QUARTER_S = 900.0
#: The low end of a day is this share of the way up its quarters: under it lie starts and noise, above it cake.
LOW_END = 0.25
#: Cycles remembered of the day that is open; of more, every second, fourth… is kept.
MOST_CYCLES = 64
#: Days kept; of more, the older half is merged in pairs, so that a life of years stays small.
MOST_DAYS = 480


class Day(NamedTuple):
    """One day of running (or several, where old ones were merged).

    Attributes:
        run_d: days of running at its end, since the first digest.
        utc_d: its end, days since 1970.
        residual_inh2o: median residual DP of its cycles; None where there was none.
        peak_inh2o: median DP prior to cleaning, as it was, at whatever flow; None likewise.
        low_end_inh2o: low end of its running DP; None where the DP was never good.
        cycles: so many in it.
    """

    run_d: float
    utc_d: float
    residual_inh2o: float | None
    peak_inh2o: float | None
    low_end_inh2o: float | None
    cycles: int


class OpenDay(NamedTuple):
    """The day that is being filled.

    Attributes:
        begin_run_s: seconds of running at its begin.
        residuals, peaks: of its cycles, thinned; the residuals at one flow, the peaks as they were.
        stride: every so many-th cycle is kept.
        cycles: so many so far.
        quarters: mean DP of each quarter of an hour of running.
        sum_inh2o, good: the quarter that is open: sum of the DP and digests.
    """

    begin_run_s: float = 0.0
    residuals: tuple[float, ...] = ()
    peaks: tuple[float, ...] = ()
    stride: int = 1
    cycles: int = 0
    quarters: tuple[float, ...] = ()
    sum_inh2o: float = 0.0
    good: int = 0


def with_cycle(day: OpenDay, residual_inh2o: float, peak_inh2o: float) -> OpenDay:
    """Take in the cycle, if its turn has come."""
    cycles = day.cycles + 1
    if day.cycles % day.stride:
        return day._replace(cycles=cycles)
    residuals, peaks, stride = (*day.residuals, residual_inh2o), (*day.peaks, peak_inh2o), day.stride
    if len(residuals) > MOST_CYCLES:
        residuals, peaks, stride = residuals[::2], peaks[::2], 2 * stride
    return day._replace(residuals=residuals, peaks=peaks, stride=stride, cycles=cycles)


def with_quarter(day: OpenDay) -> OpenDay:
    """Close the quarter of an hour that is open."""
    if not day.good:
        return day
    mean = round(day.sum_inh2o / day.good, 4)
    return day._replace(quarters=(*day.quarters, mean), sum_inh2o=0.0, good=0)


def without_quarter(day: OpenDay) -> OpenDay:
    """Forget the quarter that is open: it saw a stop, or a start."""
    return day._replace(sum_inh2o=0.0, good=0)


def closed(day: OpenDay, run_s: float, utc_s: float) -> Day:
    """The day's figures."""
    return Day(
        run_d=round(run_s / DAY_S, 2),
        utc_d=round(utc_s / DAY_S, 2),
        residual_inh2o=_middle(day.residuals),
        peak_inh2o=_middle(day.peaks),
        low_end_inh2o=_low_end(day.quarters),
        cycles=day.cycles,
    )


def kept(days: tuple[Day, ...]) -> tuple[Day, ...]:
    """The days, the older half merged in pairs once there are more than are kept."""
    if len(days) <= MOST_DAYS:
        return days
    # An even number of old ones, so that none is left over.
    old = len(days) // 4 * 2
    return tuple(_merged(*days[index : index + 2]) for index in range(0, old, 2)) + days[old:]


def _merged(first: Day, second: Day) -> Day:
    return Day(
        run_d=second.run_d,
        utc_d=second.utc_d,
        residual_inh2o=_mean(first.residual_inh2o, second.residual_inh2o),
        peak_inh2o=_mean(first.peak_inh2o, second.peak_inh2o),
        low_end_inh2o=_mean(first.low_end_inh2o, second.low_end_inh2o),
        cycles=first.cycles + second.cycles,
    )


def _mean(first: float | None, second: float | None) -> float | None:
    if first is None or second is None:
        return second if first is None else first
    return round((first + second) / 2, 3)


def _middle(values: Sequence[float]) -> float | None:
    return round(median(values), 3) if values else None


def _low_end(quarters: Sequence[float]) -> float | None:
    if not quarters:
        return None
    return round(sorted(quarters)[int(LOW_END * len(quarters))], 3)
