"""State: everything the core knows of one collector, and what one turn brings."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.condition.channel import AnalogState, DiscreteState
from monitor.interpret.window import Window
from monitor.judge.watch import Watch
from monitor.words import Event, Reading, Role


@dataclass(frozen=True, slots=True)
class CollectorState:
    """One collector as it stands.

    Attributes:
        readings: the newest reading of every point the site file names.
        residual, average: windows over the damped DP.
        watch: the alarms (``watch.alarms`` by tag).
        looked_s: scan second of the last look at a good DP; None while there is none to go by.
    """

    channels: Mapping[Role, AnalogState | DiscreteState]
    readings: Mapping[Role, Reading]
    residual: Window
    average: Window
    watch: Watch
    looked_s: float | None = None

    @property
    def residual_inh2o(self) -> float | None:
        """The residual DP (lowest in its window), None until the window is full once."""
        return self.residual.lowest

    @property
    def average_inh2o(self) -> float | None:
        """The running average, None until the window is full once."""
        return self.average.mean


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one turn brought.

    Attributes:
        changed: collectors whose state is new, by name.
        events: what must be journaled before anyone is told, oldest first.
    """

    changed: Mapping[str, CollectorState] = field(default_factory=dict)
    events: tuple[Event, ...] = ()
