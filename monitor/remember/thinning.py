"""Thinning: readings in, one row for each point and step out; no disk, no thread, cheap on every call.

Runs on the event loop for every reading of every point, hence the bare attributes and the inlined comparisons.
A step that reaches over the edge of a minute is finished in parts, so that each part belongs to one minute, one
quarter and one hour, whatever the length of a step; in the file the parts are one row again.
"""

from collections import deque
from typing import NamedTuple

from monitor.words import HistoryRow, PointId, Quality, Reading, Reason

#: Finished rows that wait for the writer; beyond this the newest are dropped and counted.
MAX_FINISHED = 50_000

_MINUTE_S = 60.0
_NEVER, _FOREVER = float("-inf"), float("inf")


class Good(NamedTuple):
    """The good readings of a part alone.

    Attributes:
        total: the sum of their values.
        first_utc_s, last_utc_s: the first and the last of them, Unix seconds.
    """

    total: float
    lowest: float
    highest: float
    first_utc_s: float
    last_utc_s: float


class PointRow(NamedTuple):
    """A finished step, or the part of it within one minute, and whose it is.

    Attributes:
        row: ``start_utc_s`` is the start of the step.
        minute_utc_s: the start of the minute, Unix seconds.
        total: the sum of the good and the uncertain values.
        good: None where no reading was good.
    """

    point: PointId
    row: HistoryRow
    minute_utc_s: int
    total: float
    good: Good | None


class _Step:
    """One step of one point while it is being filled; ``lowest`` to ``last_good_s`` are of good readings alone."""

    __slots__ = (
        "bad", "doubted", "first_good_s", "good", "highest", "last", "last_good_s", "lowest", "minute_s",
        "start_s", "step_s", "total", "uncertain", "until_s", "worst",
    )  # fmt: skip

    def __init__(self, step_s: float, minute_s: float, length_s: float) -> None:
        self.step_s = step_s
        self.minute_s = minute_s
        self.start_s = max(step_s, minute_s)
        self.until_s = min(step_s + length_s, minute_s + _MINUTE_S)
        self.last: float | None = None
        self.lowest = _FOREVER
        self.highest = _NEVER
        self.total = 0.0
        self.first_good_s = _FOREVER
        self.last_good_s = _NEVER
        self.good = 0
        self.uncertain = 0
        self.bad = 0
        self.doubted: list[float] | None = None
        self.worst = Reason.NONE

    def count_other(self, reading: Reading) -> None:
        """Count a reading that is not good, or claims to be and has no value."""
        if reading.quality is Quality.UNCERTAIN:
            self.uncertain += 1
            if not self.bad:
                self.worst = reading.reason
            if reading.value is not None:
                self._doubt(reading.value)
        else:
            self.bad += 1
            self.worst = reading.reason

    def _doubt(self, value: float) -> None:
        """Keep the sum, the lowest, the highest and the number of the uncertain values."""
        self.last = value
        if self.doubted is None:
            self.doubted = [value, value, value, 1]
            return
        total, lowest, highest, number = self.doubted
        self.doubted = [total + value, min(lowest, value), max(highest, value), number + 1]

    def finished(self, point: PointId) -> PointRow:
        """The step as far as it has got."""
        total, lowest, highest, used = self.total, self.lowest, self.highest, self.good
        if self.doubted is not None:
            total += self.doubted[0]
            lowest, highest = min(lowest, self.doubted[1]), max(highest, self.doubted[2])
            used += int(self.doubted[3])
        row = HistoryRow(
            start_utc_s=int(self.step_s),
            last=self.last,
            lowest=lowest if used else None,
            highest=highest if used else None,
            mean=total / used if used else None,
            good=self.good,
            uncertain=self.uncertain,
            bad=self.bad,
            worst=self.worst,
        )
        if used and used < self.good + self.uncertain:
            # Merging weighs a mean by all readings that may have a value; one that has none counts as the mean.
            total *= (self.good + self.uncertain) / used
        return PointRow(point, row, int(self.minute_s), total, self._good())

    def _good(self) -> Good | None:
        if not self.good:
            return None
        # An infinite value is no lower than any other, so it leaves the first moment unset.
        first_s = min(self.first_good_s, self.last_good_s)
        return Good(self.total, self.lowest, self.highest, first_s, self.last_good_s)


class Thinner:
    """Fills the steps. ``finished`` may be emptied by another thread (a deque's ends are safe to share).

    A step is finished by the first reading outside it, in whichever direction the wall clock went.
    """

    def __init__(self, step_s: float) -> None:
        self.finished: deque[PointRow] = deque()
        self.dropped = 0
        self._step_s = step_s
        self._steps: dict[PointId, _Step] = {}

    def record(self, point: PointId, reading: Reading) -> None:
        """Count one reading. Values of bad readings are never used, even where there is one."""
        at_s = reading.at.utc_s
        step = self._steps.get(point)
        if step is None or not step.start_s <= at_s < step.until_s:
            step = self._turn_over(point, step, at_s)
        value = reading.value
        if reading.quality is not Quality.GOOD or value is None:
            step.count_other(reading)
            return
        step.good += 1
        step.last = value
        step.total += value
        if value < step.lowest:
            step.lowest = value
            if at_s < step.first_good_s:  # noqa: PLR1730  # the first of a step always comes by here
                step.first_good_s = at_s
        if value > step.highest:  # noqa: PLR1730  # min() and max() would cost as much as all the rest
            step.highest = value
        if at_s > step.last_good_s:
            step.last_good_s = at_s
        elif at_s < step.first_good_s:  # the clock was set back
            step.first_good_s = at_s

    def _turn_over(self, point: PointId, step: _Step | None, at_s: float) -> _Step:
        if step is not None:
            self._finish(point, step)
        step_s, minute_s = at_s // self._step_s * self._step_s, at_s // _MINUTE_S * _MINUTE_S
        fresh = self._steps[point] = _Step(step_s, minute_s, self._step_s)
        return fresh

    def finish_all(self) -> None:
        """Finish every step as far as it has got; a later part of it is merged into the same row."""
        for point, step in self._steps.items():
            self._finish(point, step)
        self._steps.clear()

    def _finish(self, point: PointId, step: _Step) -> None:
        if len(self.finished) >= MAX_FINISHED:
            self.dropped += 1
            return
        self.finished.append(step.finished(point))
