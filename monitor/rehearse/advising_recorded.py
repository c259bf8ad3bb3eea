"""Advising recorded: the curve of one collector as it was, digest by digest, in little memory."""

from array import array
from dataclasses import dataclass

from monitor.report.rehearsal_curve import Curve


@dataclass(frozen=True, slots=True)
class Recorded:
    """One entry of each for every digest.

    Attributes:
        utc_s: its end, Unix seconds.
        last, mean: last and mean good DP, inH2O; nan where none was good.
        flags: 1 where the fan ran (or nobody says), 2 more where cleaning was called for.
        curve: the whole of it for drawing.
    """

    utc_s: "array[float]"
    last: "array[float]"
    mean: "array[float]"
    flags: bytearray
    curve: Curve

    def runs(self, number: int) -> bool:
        """Whether the fan ran."""
        return bool(self.flags[number] & 1)

    def cleans(self, number: int) -> bool:
        """Whether cleaning was called for."""
        return bool(self.flags[number] & 2)
