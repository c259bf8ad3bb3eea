"""Theil–Sen: how fast does it rise, if a few points may lie?

The median of the slopes through every two points (Theil 1950; Sen, "Estimates of the Regression Coefficient Based
on Kendall's Tau", JASA 63, 1968). Its interval follows from Kendall's statistic and holds for errors that do not
hang together; where they do, it is widened by the caller.
"""

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from statistics import NormalDist, median
from typing import NamedTuple

#: The slopes grow with the square of the points: 400 points, 80,000 slopes, about a twentieth of a second.
MOST_POINTS = 400

Point = tuple[float, float]


class Slope(NamedTuple):
    """A rise per unit of x, and the interval that holds it."""

    middle: float
    low: float
    high: float


def theil_sen(points: Sequence[Point], confidence: float, widened: float = 1.0) -> Slope | None:
    """Give the slope and its interval; None where all points stand above one another.

    Args:
        points: x and y; more than ``MOST_POINTS`` are thinned evenly.
        confidence: of the interval, above 0, below 1.
        widened: factor on the standard deviation of Kendall's statistic; 1 where the errors are independent.
    """
    points = thinned(points, MOST_POINTS)
    slopes = sorted(
        (y1 - y0) / (x1 - x0) for index, (x1, y1) in enumerate(points) for x0, y0 in points[:index] if x1 != x0
    )
    if not slopes:
        return None
    reach = NormalDist().inv_cdf(0.5 + confidence / 2) * _sigma(points) * widened
    count = len(slopes)
    high = min(max(round((count + reach) / 2), 0), count - 1)
    low = max(min(round((count - reach) / 2) - 1, count - 1), 0)
    return Slope(median(slopes), slopes[low], slopes[high])


def thinned(points: Sequence[Point], most: int) -> Sequence[Point]:
    """Take so many of the points at most, evenly, the last one always."""
    if len(points) <= most:
        return points
    step = (len(points) - 1) / (most - 1)
    return [points[round(index * step)] for index in range(most)]


def _sigma(points: Sequence[Point]) -> float:
    """Standard deviation of Kendall's statistic without a trend, with its correction for ties (Sen 1968)."""
    total = _pairs(len(points))
    ties = _tied(x for x, _ in points) + _tied(y for _, y in points)
    return math.sqrt(max(total - ties, 0.0) / 18.0)


def _tied(values: Iterable[float]) -> float:
    return sum(_pairs(times) for times in Counter(values).values() if times > 1)


def _pairs(count: int) -> float:
    return float(count * (count - 1) * (2 * count + 5))
