"""Sawtooth: the DP as it would have gone with other set points, driven by the recorded dust and pulses.

Between cleanings the DP rises as fast as it was seen to rise. From the start set point on, one row is pulsed each
pulse interval, the first at once; a pulse takes a share of what lies above the floor, the DP of clean cloth. So
the pull grows with the DP, as a cake that is twice as thick loses twice as much; the share is what was measured
at the level at which it was measured. Cleaning ends with the first pulse after which the DP is at or below stop.

The linear cake (drag S = Se + K2·W, so DP = floor + K2·W·V at one air flow) is that of the EPA Air Pollution
Control Cost Manual, EPA/452/B-02-001, Section 6, Chapter 1. That a pulse takes a share is the common picture of
fraction-removed models (Leith and Ellenbecker 1980, from memory).
"""

from collections.abc import Sequence
from typing import NamedTuple

from monitor.interpret.advice.drives import Drive

#: A pulse takes no more than this share of the cake, whatever the floor is thought to be.
_MOST_SHARE = 0.9
#: A longer time between two drives was not usual: there the sawtooth begins anew.
_HOLE_S = 1.0
_SLOWEST_INH2O_S = 1e-7
#: So far outside of its set points the DP still counts as between them, inH2O: no plant is sharper (our choice).
BAND_SLACK_INH2O = 0.1


class Teeth(NamedTuple):
    """Between what the sawtooth goes.

    Attributes:
        start_inh2o, stop_inh2o: DP at which cleaning really starts and stops (not as it is set).
        floor_inh2o: DP of clean cloth at the usual air flow; no pulse brings it lower.
        pulse_every_s: from one row's pulse to the next.
        rise_factor: by which the measured rise is multiplied: at another DP the fan moves another flow.
    """

    start_inh2o: float
    stop_inh2o: float
    floor_inh2o: float
    pulse_every_s: float
    rise_factor: float = 1.0


class Replay(NamedTuple):
    """What came of it.

    Attributes:
        span_s: how long it goes on.
        cleanings: begun, and the share of the way to the next one where a line ends; ``pulses`` in them,
            ``cleaning_s`` their time.
        in_band_s: how long the DP was between stop and start (a tenth of an inch more on both sides).
        area_inh2o_s: the integral of the DP.
        ends: cleanings that came to their end.
        low_sum_inh2o, high_inh2o: sum of the residual DPs at those ends; highest DP.
        path: moments (Unix seconds) and DP at each bend; None instead of a moment begins a new line. Empty where
            it was not asked for.
    """

    span_s: float = 0.0
    cleanings: float = 0.0
    pulses: int = 0
    cleaning_s: float = 0.0
    in_band_s: float = 0.0
    area_inh2o_s: float = 0.0
    ends: int = 0
    low_sum_inh2o: float = 0.0
    high_inh2o: float = 0.0
    path: tuple["Bend", ...] = ()

    @property
    def residual_inh2o(self) -> float | None:
        """Mean residual DP after a cleaning; None where none came to its end."""
        return self.low_sum_inh2o / self.ends if self.ends else None

    @property
    def mean_inh2o(self) -> float:
        """Mean DP over the time."""
        return self.area_inh2o_s / self.span_s if self.span_s else 0.0


class Bend(NamedTuple):
    """Where the line of the sawtooth bends.

    Attributes:
        begins: nothing leads to it from the bend before.
        cleaning: whether it is being cleaned from here on.
    """

    utc_s: float
    dp_inh2o: float
    cleaning: bool = False
    begins: bool = False


def share(drive: Drive, floor_inh2o: float) -> float:
    """The share of the cake that one pulse of that time takes."""
    return min(_MOST_SHARE, drive.pull_inh2o / max(1e-6, drive.level_inh2o - floor_inh2o))


def replay(drives: Sequence[Drive], teeth: Teeth, *, with_path: bool = False) -> Replay:
    """Run the sawtooth through the recorded time.

    Args:
        drives: oldest first.
        teeth: start above stop, stop above floor.
        with_path: keep every bend, for drawing and judging.
    """
    saw = _Saw(teeth, with_path=with_path)
    for drive in drives:
        saw.follow(drive)
    return saw.told()


class _Saw:
    """The sawtooth on its way; a loop over every pulse of months, hence plain attributes."""

    def __init__(self, teeth: Teeth, *, with_path: bool) -> None:
        self._start, self._stop, self._floor, self._every_s, self._factor = teeth
        self._low, self._high = self._stop - BAND_SLACK_INH2O, self._start + BAND_SLACK_INH2O
        self._path: list[Bend] | None = [] if with_path else None
        self._at_s = float("-inf")
        self._dp = self._first = self._stop
        self._cleans = False
        self._due_s = 0.0
        self._span_s = self._cleaning_s = self._in_band_s = self._area = self._low_sum = self._highest = 0.0
        self._cleanings = 0.0
        self._pulses = self._ends = 0

    def follow(self, drive: Drive) -> None:
        """Go on to the end of a drive."""
        if abs(drive.begin_utc_s - self._at_s) > _HOLE_S:
            self._begin(drive)
        end_s, taken = drive.end_utc_s, share(drive, self._floor)
        rise = max(_SLOWEST_INH2O_S, drive.rise_inh2o_s * self._factor)
        while self._at_s < end_s:
            if not self._cleans:
                until_s = self._at_s + max(0.0, self._start - self._dp) / rise
                self._rise(min(until_s, end_s), rise)
                if until_s <= end_s:
                    self._start_cleaning()
            else:
                self._rise(min(self._due_s, end_s), rise)
                if self._due_s <= end_s:
                    self._pulse(taken)

    def _begin(self, drive: Drive) -> None:
        """A line of its own: just cleaned, on average half a pull under stop."""
        self._end()
        self._first = self._stop - share(drive, self._floor) * max(0.0, self._stop - self._floor) / 2.0
        self._at_s, self._dp, self._cleans = drive.begin_utc_s, self._first, False
        self._mark(begins=True)

    def _end(self) -> None:
        """Count the part of a cycle that a line ends with, or a short recording would seem to clean less."""
        if self._at_s > float("-inf") and not self._cleans:
            self._cleanings += max(0.0, (self._dp - self._first) / (self._start - self._first))

    def _rise(self, until_s: float, rise: float) -> None:
        length_s = max(0.0, until_s - self._at_s)
        before = self._dp
        self._dp = before + rise * length_s
        self._at_s = max(until_s, self._at_s)
        self._span_s += length_s
        self._area += length_s * (before + self._dp) / 2.0
        self._highest = max(self._highest, self._dp)
        if self._cleans:
            self._cleaning_s += length_s
        inside = min(self._dp, self._high) - max(before, self._low)
        if inside > 0.0:
            self._in_band_s += inside / rise
        self._mark()

    def _start_cleaning(self) -> None:
        self._cleans, self._due_s = True, self._at_s
        self._cleanings += 1
        self._mark()

    def _pulse(self, taken: float) -> None:
        self._dp -= taken * max(0.0, self._dp - self._floor)
        self._pulses += 1
        self._due_s += self._every_s
        if self._dp <= self._stop:
            self._cleans = False
            self._ends += 1
            self._low_sum += self._dp
        self._mark()

    def _mark(self, *, begins: bool = False) -> None:
        if self._path is not None:
            self._path.append(Bend(self._at_s, self._dp, self._cleans, begins))

    def told(self) -> Replay:
        """All of it."""
        self._end()
        return Replay(
            self._span_s,
            self._cleanings,
            self._pulses,
            self._cleaning_s,
            self._in_band_s,
            self._area,
            self._ends,
            self._low_sum,
            self._highest,
            tuple(self._path or ()),
        )
