"""Thinning: readings in, one row for each point and step out; no disk, no thread, cheap on every call.

Runs on the event loop for every reading of every point, hence the bare attributes and the inlined comparisons.
"""

from collections import deque
from typing import NamedTuple

from monitor.words import HistoryRow, PointId, Quality, Reading, Reason

#: Finished rows that wait for the writer; beyond this the newest are dropped and counted.
MAX_FINISHED = 50_000


class PointRow(NamedTuple):
    """A finished row and whose it is."""

    point: PointId
    row: HistoryRow


class _Step:
    """One step of one point while it is being filled."""

    __slots__ = (
        "bad", "good", "highest", "last", "lowest", "start_s", "total", "uncertain", "until_s", "used", "worst",
    )  # fmt: skip

    def __init__(self, start_s: float, until_s: float) -> None:
        self.start_s = start_s
        self.until_s = until_s
        self.last = 0.0
        self.lowest = float("inf")
        self.highest = float("-inf")
        self.total = 0.0
        self.used = 0
        self.good = 0
        self.uncertain = 0
        self.bad = 0
        self.worst = Reason.NONE

    def row(self) -> HistoryRow:
        used = self.used
        return HistoryRow(
            start_utc_s=int(self.start_s),
            last=self.last if used else None,
            lowest=self.lowest if used else None,
            highest=self.highest if used else None,
            mean=self.total / used if used else None,
            good=self.good,
            uncertain=self.uncertain,
            bad=self.bad,
            worst=self.worst,
        )


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
        quality = reading.quality
        if quality is Quality.GOOD:
            step.good += 1
        elif quality is Quality.UNCERTAIN:
            step.uncertain += 1
            if not step.bad:
                step.worst = reading.reason
        else:
            step.bad += 1
            step.worst = reading.reason
            return
        value = reading.value
        if value is not None:
            step.last = value
            step.total += value
            step.used += 1
            if value < step.lowest:  # noqa: PLR1730  # min() would cost as much as all the rest
                step.lowest = value
            if value > step.highest:  # noqa: PLR1730  # as above
                step.highest = value

    def _turn_over(self, point: PointId, step: _Step | None, at_s: float) -> _Step:
        if step is not None:
            self._finish(point, step)
        start_s = at_s // self._step_s * self._step_s
        fresh = self._steps[point] = _Step(start_s, start_s + self._step_s)
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
        self.finished.append(PointRow(point, step.row()))
