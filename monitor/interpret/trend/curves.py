"""Curves: the shapes in which a residual DP may rise over a life, fitted to what was seen of it.

Filters do not age along a straight line: some rise fast at first and settle, others turn up towards the end. Each
shape is level + rise × (t / now) to a power, with a swing over the year upon it, because wet air and thin air come
round with the seasons; the swing is held small, so that what is no season is not taken for one. Late days count
more than early ones, and odd ones hardly at all (Huber's weights).
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from operator import mul
from statistics import median
from typing import NamedTuple

from monitor.interpret.trend.least_squares import Matrix, applied, inverse, normal_equations
from monitor.interpret.trend.series import Shown

#: The shapes tried: 1 is a straight line, under it the rise slows down, above it it gathers pace.
POWERS = (0.45, 0.7, 1.0, 1.4, 2.0)
#: Standard deviation of the swing over the year, as a share of the level.
SEASON_SHARE = 0.012
YEAR_D = 365.25
ROUNDS = 3
HUBER = 1.5


class Curve(NamedTuple):
    """One shape, fitted.

    Attributes:
        power: of the shape.
        level: where it stands now, without the season.
        rise: by how much it has risen since the life began.
        level_var, rise_var, both_var: variances of the two, and their covariance.
        scatter: standard deviation of the days about it; what the season had to bend counts too.
        worth: so many independent days it rests on.
    """

    power: float
    level: float
    rise: float
    level_var: float
    rise_var: float
    both_var: float
    scatter: float
    worth: float


class Ground(NamedTuple):
    """What all shapes are fitted to; the same for each.

    Attributes:
        ages: days of running since the life began, each above 0, as shares of now.
        levels: residual DP.
        sines, cosines: of the time of the year.
        late: how much each counts.
        season_inh2o: standard deviation of the swing.
    """

    ages: list[float]
    levels: list[float]
    sines: list[float]
    cosines: list[float]
    late: list[float]
    season_inh2o: float


def ground(points: Sequence[Shown], now: float, half: float) -> Ground:
    """Lay the ground.

    Args:
        points: days of the life, or blocks of them, oldest first.
        now: age of the set, days of running.
        half: a day counts half as much as one so much later, as a share of that age.
    """
    turns = [2.0 * math.pi * point.utc_d / YEAR_D for point in points]
    levels = [point.level for point in points]
    ages = [max(point.run_d / now, 1e-6) for point in points]
    return Ground(
        ages,
        levels,
        list(map(math.sin, turns)),
        list(map(math.cos, turns)),
        [math.pow(0.5, (1.0 - age) / half) for age in ages],
        max(SEASON_SHARE * median(levels), 1e-3),
    )


def fitted(on: Ground, power: float) -> Curve:
    """Fit one shape."""
    columns = [[1.0] * len(on.ages), [math.pow(age, power) - 1.0 for age in on.ages], on.sines, on.cosines]
    weights, hold = on.late, 1.0
    for _ in range(ROUNDS):
        left, right = normal_equations(columns, on.levels, weights)
        left[2][2] += hold
        left[3][3] += hold
        inverted = inverse(left)
        found = applied(inverted, right)
        errors = [y - math.fsum(map(mul, found, row)) for y, *row in zip(on.levels, *columns, strict=True)]
        weights = _calmed(errors, on.late)
        worth, variance = _spread(errors, weights)
        # The swing's own spread against that of the days, which are worth less than they are many.
        hold = variance * math.fsum(weights) / worth / on.season_inh2o**2
    bent = (found[2] ** 2 + found[3] ** 2) / on.season_inh2o**2
    return _curve(power, found, inverted, variance * (1.0 + bent / worth), worth, math.fsum(weights))


def _curve(
    power: float, found: list[float], inverted: Matrix, variance: float, worth: float, total: float
) -> Curve:
    var = variance * total / worth
    return Curve(
        power,
        found[0],
        found[1],
        inverted[0][0] * var,
        inverted[1][1] * var,
        inverted[0][1] * var,
        math.sqrt(variance),
        worth,
    )


def _calmed(errors: Sequence[float], late: Sequence[float]) -> list[float]:
    """The weights, less for the odd days."""
    limit = HUBER * 1.4826 * median(map(abs, errors)) + 1e-9
    return [w * min(1.0, limit / abs(e)) if e else w for w, e in zip(late, errors, strict=True)]


def _spread(errors: Sequence[float], weights: Sequence[float]) -> tuple[float, float]:
    """How many independent days there are, and the variance about the curve."""
    total = math.fsum(weights)
    kin = kinship(errors)
    worth = max(total * total / math.fsum(map(mul, weights, weights)) * (1.0 - kin) / (1.0 + kin), 3.0)
    mean = math.fsum(w * e * e for w, e in zip(weights, errors, strict=True)) / total
    return worth, mean * worth / (worth - 2.0) + 1e-10


def kinship(errors: Sequence[float]) -> float:
    """How far one error is like the next: their correlation, 0 to 0.9."""
    mean = math.fsum(errors) / len(errors)
    errors = [error - mean for error in errors]
    square = math.fsum(e * e for e in errors)
    if square <= 0.0:
        return 0.0
    product = math.fsum(a * b for a, b in pairwise(errors))
    return min(max(product / square, 0.0), 0.9)
