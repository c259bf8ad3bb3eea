"""Plans: collectors with their points and bands, link alarms, who may do what; in the rooms' own settings."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.interpret.settings import CurveSettings, TrendSettings
from monitor.judge.settings import AlarmSettings, Band
from monitor.troubles import Sign
from monitor.words import CommandKind, Door, Role


@dataclass(frozen=True, slots=True, kw_only=True)
class PointPlan:
    """One point: its tag on the drawing, where it is read (in words, for people), how it is conditioned."""

    tag: str
    place: str
    channel: AnalogChannel | DiscreteChannel


@dataclass(frozen=True, slots=True, kw_only=True)
class CleaningSetpoints:
    """Where the cleaning controller starts and stops (inH2O); used to advise, never to control."""

    start_inh2o: float
    stop_inh2o: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Suppression:
    """When one band is suppressed by design.

    Attributes:
        fan_stopped: while the fan is known to stand still.
        after_fan_start_s: hold-off after the fan has been seen to start, seconds; 0 for none.
        cleaning: while the process calls for cleaning (``Role.CLEANING_ACTIVE``).
        longest_cleaning_s: a cleaning that lasts longer than this holds nothing back any more.
    """

    fan_stopped: bool = False
    after_fan_start_s: float = 0.0
    cleaning: bool = False
    longest_cleaning_s: float = 900.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkAlarmPlan:
    """The alarm of one link: not connected, or (of two units and more) none answers.

    Attributes:
        units: unit identifiers that are asked on this link.
        is_phone: not a link to devices, but the phone relay's way to people; lost: nobody could be reached.
    """

    name: str
    alarm: AlarmSettings
    units: frozenset[int] = frozenset()
    is_phone: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonRights:
    """What one person may ask for, and through which doors."""

    may: frozenset[CommandKind]
    doors: frozenset[Door] = frozenset(Door)


@dataclass(frozen=True, slots=True, kw_only=True)
class CommandRules:
    """Who may do what.

    Attributes:
        people: by name. Through MQTT and with a secret, only these.
        machine: what whoever is on the machine itself may ask for (command line, HTTP on loopback) without
            having proven who it is.
        longest_shelving_s: no shelving lasts longer, seconds.
        called: who can be called by phone; a test message goes to them alone.
        late_after_s: a command that says when it was sent and is older (or newer) than this is refused.
    """

    people: Mapping[str, PersonRights] = field(default_factory=dict)
    machine: frozenset[CommandKind] = frozenset(CommandKind)
    longest_shelving_s: float = 8 * 3600.0
    late_after_s: float = 30.0
    called: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class CollectorPlan:
    """One collector. ``points`` always has ``Role.DP``; every other role is optional.

    Attributes:
        suppression: by tag, for the bands that are suppressed by design.
        curve: how its curve is read; None: it is not.
        warnings: the early warnings that are alarms, each with its settings; the others are shown, not alarmed.
        link: the link through which its DP is read.
        area: of the plant, as people call it; empty where none is named.
    """

    name: str
    points: Mapping[Role, PointPlan]
    bands: tuple[Band, ...]
    bad_signal: AlarmSettings
    description: str = ""
    trends: TrendSettings = field(default_factory=TrendSettings)
    cleaning: CleaningSetpoints | None = None
    suppression: Mapping[str, Suppression] = field(default_factory=dict)
    curve: CurveSettings | None = None
    warnings: Mapping[Sign, AlarmSettings] = field(default_factory=dict)
    link: str = ""
    area: str = ""

    @property
    def alarms(self) -> tuple[AlarmSettings, ...]:
        """The settings of every alarm, the early warnings' after the bands', the bad signal's last."""
        return (*(band.alarm for band in self.bands), *self.warnings.values(), self.bad_signal)

    def sign(self, tag: str) -> Sign | None:
        """The early warning of that alarm; None for every other tag."""
        return next((sign for sign, alarm in self.warnings.items() if alarm.tag == tag), None)

    def band(self, tag: str) -> Band | None:
        """The band of that alarm; None for every other and for a tag that is not ours."""
        return next((band for band in self.bands if band.alarm.tag == tag), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantPlan:
    """Everything the core judges by.

    Attributes:
        links: by name, the links that have an alarm.
    """

    collectors: Mapping[str, CollectorPlan] = field(default_factory=dict)
    links: Mapping[str, LinkAlarmPlan] = field(default_factory=dict)
    commands: CommandRules = field(default_factory=CommandRules)
