"""Rehearsal: what recorded data would have brought under some site file, as plain facts.

Filled in by ``monitor/rehearse``; drawn as tables, charts and pages by the files beside this one.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from monitor.interpret.curve import CurveState
from monitor.interpret.settings import CurveSettings
from monitor.report.rehearsal_curve import Curve
from monitor.troubles import Suspicion
from monitor.words import AlarmState, Priority


class Ending(StrEnum):
    """What ended one raising of an alarm."""

    PROCESS = "process"
    TIMER = "timer"
    PERSON = "person"
    DESIGN = "design"
    RAISED_AGAIN = "raised_again"
    WAITING = "waiting"
    STILL_ACTIVE = "still_active"


@dataclass(frozen=True, slots=True, kw_only=True)
class Raising:
    """One time an alarm called somebody.

    Attributes:
        raised_utc_s: when it was raised, Unix seconds.
        back_utc_s: when it was active no longer; None while it still was at the end of the data.
        ended_utc_s: when it was normal again (or raised again, or suppressed); None where that did not come.
        value_inh2o: the judged quantity when it was raised; None for a bad signal.
        lowest_inh2o, highest_inh2o: of the damped DP while it was active; None where none was good.
        suspicions: what may have been behind it; none where the curve was not read or does not tell.
    """

    collector: str
    tag: str
    priority: Priority | None
    raised_utc_s: float
    back_utc_s: float | None
    ended_utc_s: float | None
    ending: Ending
    value_inh2o: float | None = None
    lowest_inh2o: float | None = None
    highest_inh2o: float | None = None
    suspicions: tuple[Suspicion, ...] = ()

    def active_s(self, until_utc_s: float) -> float:
        """How long it was active, seconds; up to ``until_utc_s`` where it still is."""
        return (until_utc_s if self.back_utc_s is None else self.back_utc_s) - self.raised_utc_s


@dataclass(frozen=True, slots=True)
class Change:
    """An alarm came into a state."""

    at_utc_s: float
    state: AlarmState


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmLine:
    """One alarm as it is set, and its life through the data.

    Attributes:
        side: ``above`` or ``below`` for a band; empty for the bad signal.
        judged: ``damped``, ``residual`` or ``average``; empty for the bad signal.
        changes: its states, oldest first; before the first it was normal.
        warning: which early warning it is; empty for every other alarm.
    """

    tag: str
    priority: Priority
    side: str = ""
    judged: str = ""
    setpoint_inh2o: float | None = None
    on_delay_s: float = 0.0
    changes: tuple[Change, ...] = ()
    warning: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """How well the data let one collector be seen.

    Attributes:
        samples: readings of its DP, good and bad.
        bad: how many of them could not be trusted.
        step_s: how far they usually lie apart; None where there was only one.
        silent_s: seconds without any reading of the DP, in ``gaps`` gaps longer than it takes a reading to turn
            stale; ``longest_gap_s`` from ``longest_gap_utc_s`` on is the longest.
    """

    samples: int = 0
    bad: int = 0
    step_s: float | None = None
    silent_s: float = 0.0
    gaps: int = 0
    longest_gap_s: float = 0.0
    longest_gap_utc_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CollectorStory:
    """One collector through the data, under one site file.

    Attributes:
        reading, read: by what its curve was read, and what it came to; None where it was not read.
    """

    name: str
    description: str
    alarms: tuple[AlarmLine, ...]
    raisings: tuple[Raising, ...]
    curve: Curve
    sight: Sight
    reading: CurveSettings | None = None
    read: CurveState | None = None

    def raisings_of(self, tag: str) -> tuple[Raising, ...]:
        """The raisings of one of its alarms, oldest first."""
        return tuple(one for one in self.raisings if one.tag == tag)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """The whole of a rehearsal under one site file.

    Attributes:
        site: its name, as it calls itself.
        file: the name of the site file.
        begins_utc_s, ends_utc_s: of the data that was used.
        notes: what was assumed, and what was odd about the data; each one sentence.
    """

    site: str
    file: str
    begins_utc_s: float
    ends_utc_s: float
    collectors: Mapping[str, CollectorStory]
    notes: tuple[str, ...] = field(default=())

    @property
    def raisings(self) -> tuple[Raising, ...]:
        """Every raising of every collector, oldest first."""
        found = [one for story in self.collectors.values() for one in story.raisings]
        return tuple(sorted(found, key=lambda one: one.raised_utc_s))
