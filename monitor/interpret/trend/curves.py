"""Curves: the shapes in which a residual DP may rise over a life, fitted to what was seen of it.

Filters do not age along a straight line: some rise fast at first and settle, others turn up towards the end. Each
shape is level + rise × (t / now) to a power; it is fitted by weighted least squares in which late days count more
than early ones and odd ones hardly at all (Huber's weights).
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from operator import mul
from statistics import median
from typing import NamedTuple

from monitor.interpret.trend.theil_sen import Point

#: The shapes tried: 1 is a straight line, under it the rise slows down, above it it gathers pace.
POWERS = (0.4, 0.55, 0.75, 1.0, 1.35, 1.8, 2.4, 3.2)
#: A day counts half as much as one so much later, as a share of the life seen so far.
HALF_WEIGHT = 0.35
ROUNDS = 3
HUBER = 1.5


class Curve(NamedTuple):
    """One shape, fitted.

    Attributes:
        power: of the shape.
        level: where it stands now.
        rise: by how much it has risen since the life began.
        rise_sd, level_sd: standard deviations of the two.
        scatter: weighted standard deviation of the days about it.
        worth: so many independent points it rests on.
    """

    power: float
    level: float
    rise: float
    rise_sd: float
    level_sd: float
    scatter: float
    worth: float


def fitted(points: Sequence[Point], power: float, now: float) -> Curve:
    """Fit one shape; x counts from the begin of the life, above 0."""
    xs = [math.pow(x / now, power) - 1.0 for x, _ in points]
    ys = [y for _, y in points]
    late = [math.pow(0.5, (now - x) / (now * HALF_WEIGHT)) for x, _ in points]
    weights = late
    for _ in range(ROUNDS):
        level, rise = _line(xs, ys, weights)
        errors = [y - level - rise * x for x, y in zip(xs, ys, strict=True)]
        limit = HUBER * 1.4826 * median(map(abs, errors)) + 1e-9
        weights = [w * min(1.0, limit / abs(e)) if e else w for w, e in zip(late, errors, strict=True)]
    return _with_errors(power, level, rise, xs, errors, weights)


def _line(xs: Sequence[float], ys: Sequence[float], weights: Sequence[float]) -> tuple[float, float]:
    total = math.fsum(weights)
    x_mean = math.fsum(map(mul, weights, xs)) / total
    y_mean = math.fsum(map(mul, weights, ys)) / total
    across = math.fsum(w * (x - x_mean) ** 2 for w, x in zip(weights, xs, strict=True))
    along = math.fsum(w * (x - x_mean) * y for w, x, y in zip(weights, xs, ys, strict=True))
    rise = along / across
    return y_mean - rise * x_mean, rise


def _with_errors(
    power: float, level: float, rise: float, xs: Sequence[float], errors: Sequence[float], weights: Sequence[float]
) -> Curve:
    total = math.fsum(weights)
    kin = kinship(errors)
    worth = max(total * total / math.fsum(w * w for w in weights) * (1.0 - kin) / (1.0 + kin), 2.5)
    scatter2 = math.fsum(w * e * e for w, e in zip(weights, errors, strict=True)) / total * worth / (worth - 2.0)
    x_mean = math.fsum(w * x for w, x in zip(weights, xs, strict=True)) / total
    across = math.fsum(w * (x - x_mean) ** 2 for w, x in zip(weights, xs, strict=True)) / total
    rise_sd = math.sqrt(scatter2 / (worth * across))
    level_sd = math.sqrt(scatter2 / worth * (1.0 + x_mean * x_mean / across))
    return Curve(power, level, rise, rise_sd, level_sd, math.sqrt(scatter2), worth)


def kinship(errors: Sequence[float]) -> float:
    """How far one error is like the next: their correlation, 0 to 0.9."""
    mean = math.fsum(errors) / len(errors)
    errors = [error - mean for error in errors]
    square = math.fsum(e * e for e in errors)
    if square <= 0.0:
        return 0.0
    product = math.fsum(a * b for a, b in pairwise(errors))
    return min(max(product / square, 0.0), 0.9)
