"""Stretch window: the residual DP and the running average over many samples, and how long all of it stays calm.

Every sum here is taken in the order in which ``window.add`` takes it, so that not even the last digit differs.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from functools import reduce
from itertools import accumulate
from math import inf
from operator import add, mul, sub
from typing import NamedTuple

from monitor.interpret import window
from monitor.interpret.settings import TrendSettings
from monitor.interpret.window import BUCKETS, Bucket, Window
from monitor.judge.calm import Range
from monitor.scan.state import CollectorState

_DAMPED, _RESIDUAL, _AVERAGE = 0, 1, 2


class _Piece(NamedTuple):
    """A window through some samples, from ``first`` up to and without ``end``, in which no bucket is closed.

    Attributes:
        before: the window before them.
        after: the window after them, and after the sample at ``end`` too where that one closes a bucket.
    """

    first: int
    end: int
    before: Window
    after: Window


class Followed(NamedTuple):
    """Windows through some samples.

    Attributes:
        calm: how many samples come before one that may bring something to an alarm (delays are looked at
            elsewhere). The windows are those after all samples, and worth something only where all are calm.
    """

    calm: int
    residual: Window
    average: Window


def follow(
    trends: TrendSettings, state: CollectorState, at_s: Sequence[float], damped: Sequence[float], fan: bool | None
) -> Followed:
    """The windows of a collector through 1 sample or more."""
    ranges = {one.which: one for one in state.watch.ranges}
    residual, average = state.residual, state.average
    calm = _within(ranges[_DAMPED], damped)
    if fan is False:
        holds = _holds(ranges.get(_RESIDUAL), _RESIDUAL, residual) and _holds(
            ranges.get(_AVERAGE), _AVERAGE, average
        )
        return Followed(calm if holds else 0, residual, average)
    if calm < len(damped):
        return Followed(calm, residual, average)
    is_one = average is residual and trends.average_window_s == trends.residual_window_s
    lengths_s = (trends.residual_window_s, trends.average_window_s)
    for piece in _pieces(residual, lengths_s[0], at_s, damped):
        calm = min(calm, _calm_piece(ranges.get(_RESIDUAL), _RESIDUAL, piece, at_s, damped))
        if is_one:
            calm = min(calm, _calm_piece(ranges.get(_AVERAGE), _AVERAGE, piece, at_s, damped))
        residual = piece.after
    if is_one:
        return Followed(calm, residual, residual)
    for piece in _pieces(average, lengths_s[1], at_s, damped):
        calm = min(calm, _calm_piece(ranges.get(_AVERAGE), _AVERAGE, piece, at_s, damped))
        average = piece.after
    return Followed(calm, residual, average)


def _calm_piece(
    one: Range | None, which: int, piece: _Piece, at_s: Sequence[float], damped: Sequence[float]
) -> int:
    """The first sample of the piece (or the one that closes it) that may bring something; else all."""
    if one is None:
        return len(damped)
    if piece.first < piece.end and not _holds_through(one, piece, at_s, damped):
        return piece.first
    return len(damped) if _holds(one, which, piece.after) else piece.end


def _within(one: Range, values: Sequence[float]) -> int:
    """How many values come before the first outside of the range."""
    low = -inf if one.low is None else one.low
    if not values or (low <= min(values) and max(values) <= one.high):
        return len(values)
    return next(place for place, value in enumerate(values) if not low <= value <= one.high)


def _holds(one: Range | None, which: int, seen: Window) -> bool:
    """Whether what the window shows lies in the range."""
    if one is None:
        return True
    value = seen.lowest if which == _RESIDUAL else seen.mean
    if value is None or one.low is None:
        return value is None and one.low is None
    return one.low <= value <= one.high


def _holds_through(one: Range, piece: _Piece, at_s: Sequence[float], damped: Sequence[float]) -> bool:
    """Whether the window stays in the range at each sample of the piece.

    The lowest only falls while no bucket is closed, so its first and last say all; a mean may go anywhere.
    """
    first, end, before, _ = piece
    if not before.is_full:
        return one.low is None
    if one.which == _RESIDUAL:
        least = min(before.closed_lowest, before.open.lowest)
        ends = (min(least, damped[first]), min(least, min(damped[first:end])))  # noqa: PLW3301  as in _filled
        return one.low is not None and all(one.low <= value <= one.high for value in ends)
    passed = list(map(sub, at_s[first:end], (before.last_s or 0.0, *at_s[first : end - 1])))
    terms = map(mul, (before.last, *damped[first : end - 1]), passed)
    integrals = accumulate(terms, initial=before.open.integral)
    lengths = accumulate(passed, initial=before.open.length_s)
    means = [
        (before.closed_integral + integral) / (before.closed_s + length_s)
        for integral, length_s in zip(integrals, lengths, strict=True)
    ]
    return _within(one, means[1:]) == end - first


def _pieces(begun: Window, length_s: float, at_s: Sequence[float], damped: Sequence[float]) -> Iterator[_Piece]:
    """The window through the samples, cut where a bucket is closed."""
    passed = [at_s[0] - (begun.last_s or 0.0), *map(sub, at_s[1:], at_s)]
    ends_s = list(accumulate(passed, initial=begun.open.until_s))

    def bucket(until_s: float) -> int:
        # As ``window.add`` has it.
        return int(until_s * BUCKETS / length_s + 1e-6)

    first, count = 0, len(damped)
    while first < count:
        end = bisect_right(ends_s, bucket(ends_s[first]), first + 1, count + 1, key=bucket) - 1
        after = _filled(begun, at_s, damped, first, end) if end > first else begun
        if end < count:
            after = window.add(after, damped[end], at_s[end], length_s)
        yield _Piece(first, end, begun, after)
        begun, first = after, end + 1


def _filled(begun: Window, at_s: Sequence[float], damped: Sequence[float], first: int, end: int) -> Window:
    """The window after the samples from ``first`` up to and without ``end``, 1 or more, which close no bucket."""
    some = damped[first:end]
    passed = [at_s[first] - (begun.last_s or 0.0), *map(sub, at_s[first + 1 : end], at_s[first : end - 1])]
    terms = map(mul, (begun.last, *some[:-1]), passed)
    lowest, integral, filled_s, until_s = begun.open
    return Window(
        begun.closed,
        begun.closed_lowest,
        begun.closed_integral,
        begun.closed_s,
        Bucket(
            min(lowest, min(some)),  # noqa: PLW3301  min(a, *some) copies them
            # Not sum(): from Python 3.12 on that rounds otherwise.
            reduce(add, terms, integral),
            reduce(add, passed, filled_s),
            reduce(add, passed, until_s),
        ),
        at_s[end - 1],
        some[-1],
        begun.is_full,
    )
