"""Working: when the fan is to run, how much dust it brings and how warm the gas is, by the hour of the week."""

import math
import random

from monitor.plant.build import Work

_DAY_S = 86_400.0


class WorkingDay:
    """The load, the damper and the warmth at any later moment; ask in the order of time.

    Args:
        start_utc_s: Unix seconds of the trial's beginning (its week and day are counted in UTC).
    """

    def __init__(self, work: Work, start_utc_s: float, source: random.Random) -> None:
        self._work = work
        self._start_utc_s = start_utc_s
        self._source = source
        self._wander = self._damper = 0.0
        self._turned_s = self._asked_s = 0.0
        self._closed = [source.random() < 0.5 for _ in range(work.gates)]

    def runs(self, time_s: float) -> bool:
        """Return whether the fan is to run."""
        days = (self._start_utc_s + time_s) / _DAY_S
        # 1 January 1970 was a Thursday.
        weekday = (int(days) + 3) % 7
        hour = (days % 1.0) * 24.0
        return weekday < self._work.days and self._work.from_h <= hour < self._work.to_h

    def load(self, time_s: float) -> float:
        """Return the dust load as a factor of the usual one."""
        work = self._work
        self._turn(time_s)
        self._open_and_close(time_s)
        shift = work.shifts[int(((self._start_utc_s + time_s) / _DAY_S % 1.0) * len(work.shifts))]
        batch = 1.0
        if work.batch_min > 0.0 and (time_s / 60.0 / work.batch_min) % 1.0 >= work.batch_share:
            batch = work.idle_share
        return shift * batch * max(0.05, 1.0 + work.wander * self._wander)

    def damper(self) -> float:
        """Return the duct's resistance as a factor of the usual one, as of the last ``load``."""
        # About half the gates are closed as a rule, and the usual resistance is with so many.
        closed = sum(self._closed) - 0.5 * len(self._closed)
        return max(0.4, 1.0 + self._work.damper_wander * self._damper + self._work.gate_share * closed)

    def viscosity(self, time_s: float) -> float:
        """Return the gas's viscosity over the usual one: about 0.1 % for each °F (air, common tables)."""
        turn = math.sin(2.0 * math.pi * ((self._start_utc_s + time_s) / _DAY_S - 0.375))
        return 1.0 + 0.001 * self._work.swing_degf * turn

    def _turn(self, time_s: float) -> None:
        """Let the load and the damper wander on; both forget slowly and keep their spread."""
        while self._turned_s + self._work.turns_s <= time_s:
            self._turned_s += self._work.turns_s
            self._wander = 0.8 * self._wander + 0.6 * self._source.gauss(0.0, 1.0)
            self._damper = 0.95 * self._damper + 0.3122 * self._source.gauss(0.0, 1.0)

    def _open_and_close(self, time_s: float) -> None:
        """Let people open and close the gates."""
        passed_min, self._asked_s = (time_s - self._asked_s) / 60.0, time_s
        for gate, closed in enumerate(self._closed):
            if self._source.random() < passed_min / self._work.gate_min:
                self._closed[gate] = not closed
