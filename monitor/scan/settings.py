"""Collector plan: one collector's points, bands and windows, in the rooms' own settings."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.interpret.settings import TrendSettings
from monitor.judge.settings import AlarmSettings, Band
from monitor.words import Role


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
class CollectorPlan:
    """One collector. ``points`` always has ``Role.DP``; every other role is optional."""

    name: str
    points: Mapping[Role, PointPlan]
    bands: tuple[Band, ...]
    bad_signal: AlarmSettings
    description: str = ""
    trends: TrendSettings = field(default_factory=TrendSettings)
    cleaning: CleaningSetpoints | None = None

    @property
    def alarms(self) -> tuple[AlarmSettings, ...]:
        """The settings of every alarm, the bad signal's last."""
        return (*(band.alarm for band in self.bands), self.bad_signal)

    def band(self, tag: str) -> Band | None:
        """The band of that alarm; None for the bad signal's and for a tag that is not ours."""
        return next((band for band in self.bands if band.alarm.tag == tag), None)
