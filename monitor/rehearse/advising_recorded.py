"""Advising recorded: the curve of one collector as it was, digest by digest, in little memory."""

from array import array
from bisect import bisect_left
from dataclasses import dataclass
from math import isnan


@dataclass(frozen=True, slots=True)
class Recorded:
    """One entry of each for every digest.

    Attributes:
        utc_s: its end, Unix seconds.
        last, mean: last and mean good DP, inH2O; nan where none was good.
        flags: 1 where the fan ran (or nobody says), 2 more where cleaning was called for.
    """

    utc_s: "array[float]"
    last: "array[float]"
    mean: "array[float]"
    flags: bytearray

    def between(self, begins_utc_s: float, ends_utc_s: float) -> tuple[tuple[float, float], ...]:
        """Moments and mean DP of that time."""
        first, end = bisect_left(self.utc_s, begins_utc_s), bisect_left(self.utc_s, ends_utc_s)
        return tuple(
            (self.utc_s[number], self.mean[number]) for number in range(first, end) if not isnan(self.mean[number])
        )

    def runs(self, number: int) -> bool:
        """Whether the fan ran."""
        return bool(self.flags[number] & 1)

    def cleans(self, number: int) -> bool:
        """Whether cleaning was called for."""
        return bool(self.flags[number] & 2)
