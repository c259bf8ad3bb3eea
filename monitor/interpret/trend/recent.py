"""Recent: how high the residual DP stands now, and how fast it rises in the recent part of the life."""

from collections.abc import Sequence
from statistics import median

from monitor.interpret.trend.curves import kinship
from monitor.interpret.trend.series import Shown
from monitor.interpret.trend.theil_sen import Slope, theil_sen

#: The slope is that of the last part of the life (ageing may gather pace), but of so many days at least.
RECENT_SHARE = 1 / 3
LEAST_DAYS = 28.0
#: The level is the median of so many days, carried along the slope to now.
LEVEL_DAYS = 10
CONFIDENCE = 0.8


def recent(points: Sequence[Shown]) -> Sequence[Shown]:
    """The recent part of the life."""
    end = points[-1].run_d
    begin = end - max(LEAST_DAYS, RECENT_SHARE * (end - points[0].run_d))
    return [point for point in points if point.run_d >= begin]


def slope_now(points: Sequence[Shown]) -> Slope | None:
    """The slope of the recent part (inH2O per day of running) with its interval; None with fewer than three days.

    Days hang together (weeks of wet dust, of part load): the interval is widened by their correlation, as if there
    were fewer of them.
    """
    last = [(point.run_d, point.level) for point in recent(points)]
    plain = theil_sen(last, CONFIDENCE) if len(last) > 2 else None
    if plain is None:
        return None
    kin = kinship([y - plain.middle * x for x, y in last])
    return theil_sen(last, CONFIDENCE, ((1.0 + kin) / (1.0 - kin)) ** 0.5)


def level_now(points: Sequence[Shown], slope: float, now: float) -> float:
    """The residual DP now, inH2O."""
    return median(point.level + slope * (now - point.run_d) for point in points[-LEVEL_DAYS:])
