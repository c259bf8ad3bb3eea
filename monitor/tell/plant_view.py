"""Plant view: what the series of the plant are drawn from; nothing in it may change while they are."""

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import NamedTuple

from monitor.judge.alarm import Alarm
from monitor.scan.settings import CollectorPlan, LinkAlarmPlan
from monitor.scan.state import CollectorState
from monitor.words import Instant, PointId


class PlantView(NamedTuple):
    """Collectors, links and their alarms, as of one moment.

    Attributes:
        link_plans, link_alarms: the alarms of the links, both by the link's name.
    """

    plans: Mapping[str, CollectorPlan]
    states: Mapping[str, CollectorState]
    last_good: Mapping[PointId, Instant]
    now: Instant
    link_plans: Mapping[str, LinkAlarmPlan] = MappingProxyType({})
    link_alarms: Mapping[str, Alarm] = MappingProxyType({})

    def collectors(self) -> Iterator[tuple[str, CollectorPlan, CollectorState]]:
        """Every collector that has a state."""
        for name, plan in self.plans.items():
            state = self.states.get(name)
            if state is not None:
                yield name, plan, state
