"""Freshness: when each point was last good, so that the time since then can be told while it is bad."""

from collections.abc import Mapping

from monitor.scan.state import CollectorState
from monitor.words import Instant, PointId, Quality, Role


class Freshness:
    """The last good moment of every point. Bounded by the points there are; ``keep`` drops those that are gone."""

    def __init__(self) -> None:
        self._last_good: dict[str, dict[Role, Instant]] = {}

    def note(self, collector: str, state: CollectorState) -> None:
        """Take in a collector's newest readings."""
        own = self._last_good.setdefault(collector, {})
        for role, reading in state.readings.items():
            if reading.quality is Quality.GOOD:
                own[role] = reading.at

    def keep(self, collectors: Mapping[str, object]) -> None:
        """Forget every collector that is not among these."""
        self._last_good = {name: own for name, own in self._last_good.items() if name in collectors}

    def last_good(self) -> dict[PointId, Instant]:
        """A copy, for a view."""
        return {
            PointId(collector, role): at for collector, own in self._last_good.items() for role, at in own.items()
        }
