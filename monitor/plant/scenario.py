"""Scenario: what goes wrong at the simulated plant, and when.

A scenario is a list of happenings at fixed plant times, readable as a table. It may repeat, so that a viewer
who looks in late still sees it.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum


class Fault(StrEnum):
    """What can happen to a collector."""

    AIR_SUPPLY_LOST = "compressed air lost: pulses no longer clean"
    FAN_STOPPED = "fan stopped"
    LOOP_BROKEN = "signal wire of the DP transmitter broken"
    BAGS_TORN = "bags torn: air goes past the cloth"


@dataclass(frozen=True, slots=True)
class Happening:
    """One fault on one collector, plant minutes from and to."""

    collector: str
    fault: Fault
    from_min: float
    to_min: float


@dataclass(frozen=True, slots=True)
class Conditions:
    """What holds at one collector at one moment."""

    fan_commanded: bool = True
    air_supply: bool = True
    bags_torn: bool = False
    loop_broken: bool = False


_CHANGES: dict[Fault, dict[str, bool]] = {
    Fault.AIR_SUPPLY_LOST: {"air_supply": False},
    Fault.FAN_STOPPED: {"fan_commanded": False},
    Fault.LOOP_BROKEN: {"loop_broken": True},
    Fault.BAGS_TORN: {"bags_torn": True},
}


@dataclass(frozen=True, slots=True)
class Scenario:
    """Happenings, and after how many plant minutes they begin anew (None: never)."""

    happenings: tuple[Happening, ...] = ()
    repeat_min: float | None = None

    def conditions(self, collector: str, time_s: float) -> Conditions:
        """Return what holds at that collector at that plant time."""
        minute = self._minute(time_s)
        now = Conditions()
        for happening in self.happenings:
            if happening.collector == collector and happening.from_min <= minute < happening.to_min:
                now = replace(now, **_CHANGES[happening.fault])
        return now

    def next_change_s(self, collector: str, time_s: float) -> float:
        """Return the first plant time after this one at which the conditions may change; inf if there is none."""
        minute = self._minute(time_s)
        edges = list(self._edges(collector))
        later = [edge for edge in edges if edge > minute]
        if later:
            return time_s + (min(later) - minute) * 60.0
        if self.repeat_min is None or not edges:
            return float("inf")
        return time_s + (self.repeat_min - minute) * 60.0

    def _minute(self, time_s: float) -> float:
        minute = time_s / 60.0
        return minute if self.repeat_min is None else minute % self.repeat_min

    def _edges(self, collector: str) -> Iterable[float]:
        for happening in self.happenings:
            if happening.collector == collector:
                yield from (happening.from_min, happening.to_min)
