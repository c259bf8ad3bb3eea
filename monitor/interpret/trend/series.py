"""Series: the days of a life as points of one trend.

Either the residual DP of the cycles, or the low end of the running DP: which one is decided by the last days, and
days of the other kind are left out, because a step from one to the other is not ageing.
"""

from collections.abc import Sequence
from typing import NamedTuple

from monitor.interpret.settings import DAY_S
from monitor.interpret.trend.days import Day

#: The last days of running decide which figure is trended.
DECIDING_DAYS = 14
#: The share of the time at which the collector runs is taken over so many days of the calendar.
SHARE_DAYS = 56.0


class Shown(NamedTuple):
    """One day of the trend.

    Attributes:
        run_d: days of running at its end.
        level: residual DP, inH2O.
        utc_d: its end, days since 1970.
    """

    run_d: float
    level: float
    utc_d: float


def by_cycles(days: Sequence[Day]) -> bool:
    """Whether the cycles give the residual DP; else the low end of the running DP stands in for it."""
    last = days[-DECIDING_DAYS:]
    return 2 * sum(day.residual_inh2o is not None for day in last) >= len(last)


def points(days: Sequence[Day]) -> list[Shown]:
    """The residual DP of each day, of one kind only, oldest first."""
    if by_cycles(days):
        return [Shown(d.run_d, d.residual_inh2o, d.utc_d) for d in days if d.residual_inh2o is not None]
    return [
        Shown(d.run_d, d.low_end_inh2o, d.utc_d)
        for d in days
        if d.residual_inh2o is None and d.low_end_inh2o is not None
    ]


def levels(days: Sequence[Day]) -> list[float]:
    """The residual DP of each day, of one kind only, oldest first."""
    return [shown.level for shown in points(days)]


def running_share(days: Sequence[Day], run_s: float, utc_s: float) -> float:
    """At what share of the time the collector ran in the last weeks, above 0, to 1; 1 where nothing is known."""
    utc_d = utc_s / DAY_S
    before = [day for day in days if day.utc_d <= utc_d - 1.0]
    if not before:
        return 1.0
    within = [day for day in before if day.utc_d >= utc_d - SHARE_DAYS]
    begin = within[0] if within else before[-1]
    return min(max((run_s / DAY_S - begin.run_d) / (utc_d - begin.utc_d), 0.02), 1.0)
