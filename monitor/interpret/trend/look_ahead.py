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

from monitor.interpret.trend.curves import POWERS, Curve, Ground, fitted, ground
from monitor.interpret.trend.series import Shown

#: Days are gathered to so many blocks at most, each with the median of its days.
MOST_BLOCKS = 60
#: New cloth rises fast until its pores are seasoned: so many days, or this share of the life, are left out.
SEASONING_D, SEASONING_SHARE = 21.0, 0.2
#: Looked at twice: the whole life, and its last part above all. Where filters age evenly the two agree; where the
#: line has bent, they do not, and the interval is as wide as they differ. A day counts half as much as one so much
#: later, as a share of the age.
HALVES = (0.1, 0.5)
#: Before anything is seen, a straight rise is thought likeliest: log of the power, its spread.
USUAL_POWER = 0.0
POWER_SPREAD = 0.45
#: How far a better fit is believed: no filter keeps to any of the shapes for long.
TRUST = 0.6
#: The model's own error of the logarithm of what remains: always, and for each life seen that it looks ahead.
#: These, and the spread, the trust, the halves and the season, were found on simulated lives of three kinds
#: (powers of time, bent lines, laws of another bed), a hundred and more with seeds under 1000, by the pinball loss
#: of the interval's three days; they are judged on seeds from 1000 on.
MODEL_SD = 0.03
MODEL_SD_PER_LIFE = 0.15
#: The level's own error that does not show in the days: a share of it (slow changes of flow, load and air).
LEVEL_SD_SHARE = 0.005
#: What remains is never told more exactly than this, days.
LEAST_SD_D = 3.0
#: Nobody looks further ahead than ten years of running, days.
FAR_D = 3_650.0
#: A shape that never gets there is put so far away, days.
BEYOND_D = 100_000.0
#: Fewer days than this are not made fewer by leaving out the first ones.
LEAST_POINTS = 10
CONFIDENCE = 0.8

_NORMAL = NormalDist()
#: Seven levels of equal likelihood stand for all of them.
_DEVIATES = tuple(_NORMAL.inv_cdf((index + 0.5) / 7) for index in range(7))


class Ahead(NamedTuple):
    """What remains, days of running; None where the rise may never get there."""

    middle_d: float | None
    earliest_d: float | None
    latest_d: float | None


class _Stand(NamedTuple):
    """Where one stands: age of the set, days of it that were seen, and the limit."""

    now: float
    seen: float
    limit: float


class _Chance(NamedTuple):
    """One shape's day: how much it counts, the logarithm of the days that remain, and its error."""

    weight: float
    log_days: float
    sd: float


def look_ahead(points: Sequence[Shown], now: float, limit: float) -> Ahead:
    """Give the days that remain; ``run_d`` of the points and ``now`` count from the begin of the life."""
    gathered = blocks(_seasoned(points, now))
    stand = _Stand(now, now - points[0].run_d, limit)
    chances = [chance for half in HALVES for chance in _view(ground(gathered, now, half), stand)]

    def until(log_days: float) -> float:
        """How likely it is that the limit is reached within that."""
        return sum(weight * _NORMAL.cdf((log_days - middle) / sd) for weight, middle, sd in chances)

    ends = ((1.0 - CONFIDENCE) / 2, 0.5, (1.0 + CONFIDENCE) / 2)
    early, middle, late = (_solved(until, share) for share in ends)
    return Ahead(middle, early, late)


def _view(on: Ground, stand: _Stand) -> list[_Chance]:
    """All shapes as seen from one ground, and all grounds count the same."""
    curves = [fitted(on, power) for power in POWERS]
    best = min(curve.scatter for curve in curves)
    chances = [chance for curve in curves for chance in _chances(curve, best, stand)]
    total = math.fsum(chance.weight for chance in chances) * len(HALVES)
    return [_Chance(weight / total, middle, sd) for weight, middle, sd in chances]


def blocks(points: Sequence[Shown]) -> Sequence[Shown]:
    """Gather neighbouring days, so that one odd day in a block does not count."""
    size = -(-len(points) // MOST_BLOCKS)
    if size <= 1:
        return points
    # The last block is a whole one; the days before the first whole one are left out.
    edges = range(len(points) % size, len(points), size)
    return [_block(points[edge : edge + size]) for edge in edges]


def _seasoned(points: Sequence[Shown], now: float) -> Sequence[Shown]:
    begin = min(SEASONING_D, SEASONING_SHARE * now)
    later = [point for point in points if point.run_d > begin]
    return later if len(later) >= LEAST_POINTS else points


def _block(points: Sequence[Shown]) -> Shown:
    count = len(points)
    level = median(point.level for point in points)
    return Shown(sum(point.run_d for point in points) / count, level, sum(point.utc_d for point in points) / count)


def _chances(curve: Curve, best: float, stand: _Stand) -> list[_Chance]:
    """The days of one shape, for each level that may be the true one."""
    odds = -0.5 * ((math.log(curve.power) - USUAL_POWER) / POWER_SPREAD) ** 2
    fit = -TRUST * curve.worth * math.log(curve.scatter / best)
    weight = math.exp(odds + fit) / len(_DEVIATES)
    own = (LEVEL_SD_SHARE * curve.level) ** 2
    level_sd = math.sqrt(curve.level_var + own)
    # A level that is really higher means a rise that is really greater, as far as the fit ties them together.
    tie = curve.both_var / curve.level_var
    rise_sd = math.sqrt(max(curve.rise_var - tie * curve.both_var, 0.0) + own)
    through = curve.level_var / level_sd
    left = stand.limit - curve.level
    return [
        _chance(curve.power, weight, left - level_sd * z, curve.rise + tie * through * z, rise_sd, stand)
        for z in _DEVIATES
    ]


def _chance(power: float, weight: float, left: float, rise: float, rise_sd: float, stand: _Stand) -> _Chance:
    rise = max(rise, 0.1 * rise_sd, 1e-6)
    ahead = min(max(left, 1e-4) / rise, 1e6)
    grown = math.pow(1.0 + ahead, 1.0 / power)
    days = min(max(stand.now * (grown - 1.0), 0.1), BEYOND_D)
    # d log(days) / d log(ahead): how much of an error of the rise comes through.
    through = ahead * grown / (1.0 + ahead) / power / max(grown - 1.0, 1e-9)
    shown = min(rise_sd / rise, 2.0) * through
    model = MODEL_SD + MODEL_SD_PER_LIFE * min(days / max(stand.seen, 1.0), 4.0)
    return _Chance(weight, math.log(days), math.hypot(shown, model, LEAST_SD_D / max(days, LEAST_SD_D)))


def _solved(until: Callable[[float], float], share: float) -> float | None:
    """The days within which it is as likely as that; None where they are beyond sight."""
    low, high = math.log(1e-2), math.log(FAR_D)
    if until(high) < share:
        return None
    for _ in range(25):
        middle = (low + high) / 2
        low, high = (low, middle) if until(middle) >= share else (middle, high)
    return math.exp(high)
