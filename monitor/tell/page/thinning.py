"""Thinning: many rows of the history as few pieces, of which none hides an extreme or a blind stretch."""

import math
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from monitor.words import HistoryRow

GOOD, UNCERTAIN, BAD = 0, 1, 2


class Piece(NamedTuple):
    """Some rows as one; ``low``, ``high`` and ``last`` are None where nothing in it could be trusted.

    Attributes:
        at_utc_s: its begin.
        quality: 2 where at least one whole row was blind (the DP is then what was seen in the others), 1 where
            some reading was bad or uncertain, 0 where all were good.
    """

    at_utc_s: float
    low: float | None
    high: float | None
    last: float | None
    quality: int


def piece_s(span_s: float, points: int, row_s: float) -> float:
    """How long a piece must be so that there are at most so many: a whole number of rows, 1 or more."""
    # Pieces lie on a grid of their own length, and the first row may begin before the span: one more at each end.
    return row_s * max(1, math.ceil(span_s / (row_s * max(1, points - 2))))


def thinned(rows: Iterable[HistoryRow], step_s: float) -> list[Piece]:
    """The rows, oldest first, in pieces of that length; a piece without a row is missing."""
    pieces: list[Piece] = []
    slot: float | None = None
    some: list[HistoryRow] = []
    for row in rows:
        here = row.start_utc_s // step_s
        if here != slot and some:
            pieces.append(_piece(some, (slot or 0.0) * step_s))
            some = []
        slot = here
        some.append(row)
    if some:
        pieces.append(_piece(some, (slot or 0.0) * step_s))
    return pieces


def lowest_within(
    rows: Sequence[HistoryRow], standing: frozenset[int], window_s: float, step_s: float
) -> Iterator[tuple[float, float]]:
    """The lowest DP of the window that ends with each piece: the residual DP, as far as the rows tell it.

    Args:
        rows: oldest first, a whole window from before the first piece too where there is one.
        standing: starts of the rows in which the fan stood still; they say nothing of the filters.
        window_s: length of the window.
        step_s: of a piece.

    Yields:
        Begin of the piece, lowest DP.
    """
    lows: deque[tuple[int, float]] = deque()
    slot: float | None = None
    for row in rows:
        here = row.start_utc_s // step_s
        if slot is not None and here != slot and lows:
            yield slot * step_s, lows[0][1]
        slot = here
        while lows and lows[0][0] <= row.start_utc_s - window_s:
            lows.popleft()
        if row.lowest is None or row.start_utc_s in standing:
            continue
        while lows and lows[-1][1] >= row.lowest:
            lows.pop()
        lows.append((row.start_utc_s, row.lowest))
    if slot is not None and lows:
        yield slot * step_s, lows[0][1]


def _piece(some: Sequence[HistoryRow], at_utc_s: float) -> Piece:
    lows = [row.lowest for row in some if row.lowest is not None]
    highs = [row.highest for row in some if row.highest is not None]
    lasts = [row.last for row in some if row.last is not None]
    # An hour has its extremes of the good readings alone; a last one may be uncertain and by itself.
    low, high = min([*lows, *lasts], default=None), max([*highs, *lasts], default=None)
    return Piece(at_utc_s, low, high, lasts[-1] if lasts else None, max(map(_quality, some)))


def _quality(row: HistoryRow) -> int:
    if row.bad and not row.good and not row.uncertain:
        return BAD
    return UNCERTAIN if row.bad or row.uncertain else GOOD
