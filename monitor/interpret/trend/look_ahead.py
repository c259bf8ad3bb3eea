"""Look ahead: after how many more days of running will the residual DP reach the limit?

Each shape (``curves``) that fits what was seen says its own day, with an error of its own; the better a shape
fits, the more it counts. Together they make one distribution of the days that remain, of which the middle and the
two ends of the interval are taken. An interval of the slope alone would be far too narrow: the level now is not
known exactly, the residual DP wanders for weeks, and no filter keeps to a formula. How much wider it must be was
measured on simulated lives (the constants say how) and not on those by which it is judged.
"""

import math
from collections.abc import Callable, Sequence
from statistics import NormalDist, median
from typing import NamedTuple

from monitor.interpret.trend.curves import POWERS, Curve, fitted
from monitor.interpret.trend.theil_sen import Point

#: Days are gathered to so many blocks at most, each with the median of its days.
MOST_BLOCKS = 60
#: Before anything is seen, a rise that gathers pace a little is thought likeliest: log of the power, its spread.
USUAL_POWER = 0.15
POWER_SPREAD = 0.5
#: The model's own error of the logarithm of what remains: always, and for each life seen that it looks ahead.
MODEL_SD = 0.10
MODEL_SD_PER_LIFE = 0.15
#: What remains is never told more exactly than this, days.
LEAST_SD_D = 3.0
#: Nobody looks further ahead, days of running.
FAR_D = 20_000.0
CONFIDENCE = 0.8

_NORMAL = NormalDist()


class Ahead(NamedTuple):
    """What remains, days of running; None where the rise may never get there."""

    middle_d: float | None
    earliest_d: float | None
    latest_d: float | None


class _Chance(NamedTuple):
    """One shape's day: how much it counts, the logarithm of the days that remain, and its error."""

    weight: float
    log_days: float
    sd: float


def look_ahead(points: Sequence[Point], now: float, limit: float) -> Ahead:
    """Give the days that remain; x of the points and ``now`` count from the begin of the life."""
    curves = [fitted(blocks(points), power, now) for power in POWERS]
    best = min(curve.scatter for curve in curves)
    chances = [_chance(curve, best, now, limit) for curve in curves]
    total = math.fsum(chance.weight for chance in chances)

    def until(log_days: float) -> float:
        """How likely it is that the limit is reached within that."""
        return sum(c.weight * _NORMAL.cdf((log_days - c.log_days) / c.sd) for c in chances) / total

    ends = ((1.0 - CONFIDENCE) / 2, 0.5, (1.0 + CONFIDENCE) / 2)
    early, middle, late = (_solved(until, share) for share in ends)
    return Ahead(middle, early, late)


def blocks(points: Sequence[Point]) -> Sequence[Point]:
    """Gather neighbouring days, so that one odd day in a block does not count."""
    size = -(-len(points) // MOST_BLOCKS)
    if size <= 1:
        return points
    # The last block is a whole one; the first is what is left.
    edges = range(len(points) - size * (len(points) // size), len(points), size)
    return [_block(points[edge : edge + size]) for edge in edges]


def _block(points: Sequence[Point]) -> Point:
    return sum(x for x, _ in points) / len(points), median(y for _, y in points)


def _chance(curve: Curve, best: float, now: float, limit: float) -> _Chance:
    odds = -0.5 * ((math.log(curve.power) - USUAL_POWER) / POWER_SPREAD) ** 2
    fit = -curve.worth * math.log(max(curve.scatter, 1e-4) / max(best, 1e-4))
    left = max(limit - curve.level, 1e-3)
    rise = max(curve.rise, 1e-6)
    ahead = min(left / rise, 1e6)
    grown = math.pow(1.0 + ahead, 1.0 / curve.power)
    days = min(max(now * (grown - 1.0), 0.01), FAR_D)
    # d log(days) / d log(ahead): how much of an error in level or rise comes through.
    through = ahead * grown / (1.0 + ahead) / curve.power / max(grown - 1.0, 1e-9)
    seen = math.hypot(curve.rise_sd / rise, curve.level_sd / left) * through
    model = MODEL_SD + MODEL_SD_PER_LIFE * min(days / now, 4.0)
    sd = math.sqrt(min(seen, 3.0) ** 2 + model**2 + (LEAST_SD_D / max(days, LEAST_SD_D)) ** 2)
    return _Chance(math.exp(odds + fit), math.log(days), sd)


def _solved(until: Callable[[float], float], share: float) -> float | None:
    """The days within which it is as likely as that; None where they are beyond sight."""
    low, high = math.log(1e-3), math.log(FAR_D / 2)
    if until(high) < share:
        return None
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (low, middle) if until(middle) >= share else (middle, high)
    return math.exp(high)
