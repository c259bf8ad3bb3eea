"""State: everything the core knows of the plant, and what one turn brings."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.condition.channel import AnalogState, DiscreteState
from monitor.interpret import curve
from monitor.interpret.curve import CurveState
from monitor.interpret.window import Window
from monitor.judge.alarm import Alarm
from monitor.judge.calm import Watch
from monitor.scan.context import UNKNOWN, Context
from monitor.words import Answer, CommandKind, Event, Hold, Reading, Role


@dataclass(frozen=True, slots=True)
class CollectorState:
    """One collector as it stands.

    Attributes:
        readings: the newest reading of every point the site file names.
        residual, average: windows over the damped DP.
        watch: the alarms (``watch.alarms`` by tag).
        looked_s: scan second of the last look at a good DP; None while there is none to go by.
        context: what fan and cleaning do.
        explained: alarms that are held back under an alarm of their link, by tag.
        curve: what has been read from its curve.
    """

    channels: Mapping[Role, AnalogState | DiscreteState]
    readings: Mapping[Role, Reading]
    residual: Window
    average: Window
    watch: Watch
    looked_s: float | None = None
    context: Context = UNKNOWN
    explained: Mapping[str, Hold] = field(default_factory=dict)
    curve: CurveState = curve.BEGIN

    @property
    def residual_inh2o(self) -> float | None:
        """The residual DP (lowest in its window), None until the window is full once."""
        return self.residual.lowest

    @property
    def average_inh2o(self) -> float | None:
        """The running average, None until the window is full once."""
        return self.average.mean


@dataclass(frozen=True, slots=True)
class LinkState:
    """One link as it stands.

    Attributes:
        connected: None until the link has been heard of.
        answers: by unit identifier, whether its last scan brought any answer.
        detail: how it came or went, in a short English phrase.
        due_s: when its alarm's next timer falls due if nothing else is heard.
    """

    alarm: Alarm = field(default_factory=Alarm)
    connected: bool | None = None
    answers: Mapping[int, bool] = field(default_factory=dict)
    detail: str = ""
    due_s: float = -math.inf


@dataclass(frozen=True, slots=True)
class Answered:
    """A command that has been answered, and for whom."""

    kind: CommandKind
    tag: str
    by: str
    answer: Answer
    reason: str = ""
    for_s: float | None = None
    collector: str = ""
    about_utc_s: float | None = None
    action: str = ""
    person: str = ""


@dataclass(frozen=True, slots=True)
class Desk:
    """What is remembered of commands, so that none is carried out twice.

    Attributes:
        answered: by command id, oldest first, at most ``MOST_ANSWERED``.
        refusal_due_s: before this scan second no further refusal is journaled, so that nobody floods the journal.
        refused_meanwhile: refusals since the last one that was journaled.
    """

    answered: Mapping[str, Answered] = field(default_factory=dict)
    refusal_due_s: float = -math.inf
    refused_meanwhile: int = 0


#: More than two doors can bring, at five a second each, before the oldest would be refused as late (30 s).
MOST_ANSWERED = 1000


@dataclass(frozen=True, slots=True)
class PlantState:
    """The whole plant as it stands; one collector for each collector plan, one link for each link alarm."""

    collectors: Mapping[str, CollectorState] = field(default_factory=dict)
    links: Mapping[str, LinkState] = field(default_factory=dict)
    desk: Desk = field(default_factory=Desk)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one turn brought.

    Attributes:
        changed: collectors whose state is new, by name.
        links: links whose state is new, by name.
        desk: what is remembered of commands from now on; None where it is as before.
        events: what must be journaled before anyone is told, oldest first.
        answers: to commands; their text is left to the wording.
    """

    changed: Mapping[str, CollectorState] = field(default_factory=dict)
    events: tuple[Event, ...] = ()
    links: Mapping[str, LinkState] = field(default_factory=dict)
    desk: Desk | None = None
    answers: tuple[Answer, ...] = ()

    def onto(self, state: PlantState) -> PlantState:
        """The plant's state after this turn."""
        return PlantState(
            {**state.collectors, **self.changed} if self.changed else state.collectors,
            {**state.links, **self.links} if self.links else state.links,
            self.desk or state.desk,
        )
