"""Rehearsal curve: the DP of any length of time in a bounded number of bins, each with its lowest and highest.

Bins begin one second wide; whenever they become too many, neighbours are joined and the width doubles. So nobody
must know beforehand how long the data goes on, and no peak is lost.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isinf

#: From half as many up to so many bins; a wide screen has about as many dots across.
MAX_BINS = 2400


@dataclass(frozen=True, slots=True)
class Curve:
    """The DP in bins of equal width.

    Attributes:
        begins_utc_s: where the first bin begins, Unix seconds.
        width_s: of a bin, seconds.
        lowest, highest: of the good samples in each bin, inH2O, damped; None where there was none.
        blind: the share of each bin in which the DP was not good, 0 to 1.
    """

    begins_utc_s: float
    width_s: float
    lowest: tuple[float | None, ...]
    highest: tuple[float | None, ...]
    blind: tuple[float, ...]

    def resampled(self, begins_utc_s: float, ends_utc_s: float, count: int) -> "Curve":
        """The same from and to those moments in ``count`` bins, 1 or more (no peak is lost)."""
        width_s = max((ends_utc_s - begins_utc_s) / count, 1e-9)
        low, high, blind = [inf] * count, [-inf] * count, [0.0] * count
        for number, (lowest, highest) in enumerate(zip(self.lowest, self.highest, strict=True)):
            start_s = self.begins_utc_s + number * self.width_s - begins_utc_s
            first = int(start_s / width_s)
            last = max(first, int((start_s + self.width_s) / width_s - 1e-9))
            for at in range(max(first, 0), min(last, count - 1) + 1):
                if lowest is not None and highest is not None:
                    low[at], high[at] = min(low[at], lowest), max(high[at], highest)
                shared_s = min(start_s + self.width_s, (at + 1) * width_s) - max(start_s, at * width_s)
                blind[at] += self.blind[number] * max(0.0, shared_s) / width_s
        return Curve(begins_utc_s, width_s, _seen(low), _seen(high), tuple(min(1.0, one) for one in blind))


def _seen(values: Sequence[float]) -> tuple[float | None, ...]:
    return tuple(None if isinf(value) else value for value in values)


class CurveKeeper:
    """Takes in samples in the order of time, and keeps their curve.

    Args:
        begins_utc_s: not after the first sample.
    """

    def __init__(self, begins_utc_s: float) -> None:
        self._begins_utc_s = begins_utc_s
        self._width_s = 1.0
        self._low: list[float] = []
        self._high: list[float] = []
        self._blind_s: list[float] = []

    def add(self, utc_s: Sequence[float], values: Sequence[float]) -> None:
        """Good samples: moments that never fall, and as many values, inH2O."""
        begun, end = 0, len(utc_s)
        while begun < end:
            number = self._bin(utc_s[begun])
            edge_s = self._begins_utc_s + (number + 1) * self._width_s
            until = end if utc_s[end - 1] < edge_s else max(begun + 1, bisect_left(utc_s, edge_s, begun, end))
            some = values if (begun, until) == (0, end) else values[begun:until]
            self._low[number] = min(self._low[number], min(some))  # noqa: PLW3301  min(a, *some) copies them
            self._high[number] = max(self._high[number], max(some))  # noqa: PLW3301  as above
            begun = until

    def add_blind(self, from_utc_s: float, until_utc_s: float) -> None:
        """A stretch in which the DP was not good."""
        if until_utc_s <= from_utc_s:
            return
        last = self._bin(until_utc_s)
        for number in range(self._bin(from_utc_s), last + 1):
            start_s = self._begins_utc_s + number * self._width_s
            self._blind_s[number] += max(0.0, min(until_utc_s, start_s + self._width_s) - max(from_utc_s, start_s))

    def curve(self) -> Curve:
        """The curve so far."""
        shares = tuple(min(1.0, blind_s / self._width_s) for blind_s in self._blind_s)
        return Curve(self._begins_utc_s, self._width_s, _seen(self._low), _seen(self._high), shares)

    def _bin(self, at_utc_s: float) -> int:
        """The number of the bin for that moment, made if it is new."""
        number = int((at_utc_s - self._begins_utc_s) / self._width_s)
        while number >= MAX_BINS:
            self._widen()
            number = int((at_utc_s - self._begins_utc_s) / self._width_s)
        missing = number + 1 - len(self._low)
        if missing > 0:
            self._low += [inf] * missing
            self._high += [-inf] * missing
            self._blind_s += [0.0] * missing
        return max(0, number)

    def _widen(self) -> None:
        self._low = [min(self._low[at : at + 2]) for at in range(0, len(self._low), 2)]
        self._high = [max(self._high[at : at + 2]) for at in range(0, len(self._high), 2)]
        self._blind_s = [sum(self._blind_s[at : at + 2]) for at in range(0, len(self._blind_s), 2)]
        self._width_s *= 2.0
