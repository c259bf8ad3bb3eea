"""Calm: the region in which nothing can happen to the alarms of one collector.

Nearly every sample lies well inside the bands. After each real step the watch notes the *calm*: the interval of
each judged quantity, and the moment, up to which no alarm can change. A sample inside the calm costs two
comparisons, which is what lets a month of one-second samples be judged in seconds. The calm is derived from
the alarms alone, so it decides nothing by itself.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from monitor.judge.alarm import Alarm, Presence
from monitor.judge.lifecycle import due_s, shelf_end_s
from monitor.judge.settings import AlarmSettings, Band, Condition, Judged, Notice, Side
from monitor.words import Hold


class Seen(NamedTuple):
    """What can be judged now, inH2O; None where it cannot be trusted. ``damped`` None is a bad signal.

    Attributes:
        standing: the tags of the notices whose condition is present; None where nobody can tell.
    """

    damped: float | None
    residual: float | None
    average: float | None
    standing: frozenset[str] | None = None


INDEX: Mapping[Judged, int] = {Judged.DAMPED: 0, Judged.RESIDUAL: 1, Judged.AVERAGE: 2}


@dataclass(frozen=True, slots=True)
class Bands:
    """The alarms of one collector as the site file sets them."""

    bands: tuple[Band, ...]
    bad_signal: AlarmSettings
    notices: tuple[Notice, ...] = ()

    @property
    def at_readings(self) -> tuple[Band | Notice, ...]:
        """All but the bad signal: what can be seen at a reading of the DP alone."""
        return (*self.bands, *self.notices)

    @property
    def causes_first(self) -> list[tuple[AlarmSettings, Condition]]:
        """Every alarm, each after those that may explain it; the bad signal's without a condition."""
        alarms: list[tuple[AlarmSettings, Condition]] = [(self.bad_signal, None)]
        alarms += [(one.alarm, one) for one in self.at_readings]
        return sorted(alarms, key=lambda one: len(one[0].causes))


class Range(NamedTuple):
    """Closed interval of one judged quantity; ``low`` None: as long as it stays unseen."""

    which: int
    low: float | None
    high: float


@dataclass(frozen=True, slots=True)
class Watch:
    """The alarms by tag, and the calm that follows from them.

    Attributes:
        due_s: when the first delay of any alarm runs out, if the same is seen then.
        tick_due_s: the same of what needs no reading to run out: the bad signal's delays, and every shelf.
        held: what holds alarms back from outside the collector's own alarms, by tag.
        standing: the notices that stood at the last look.
    """

    alarms: Mapping[str, Alarm]
    ranges: tuple[Range, ...]
    due_s: float
    tick_due_s: float
    held: Mapping[str, Hold] = field(default_factory=dict)
    standing: frozenset[str] | None = None


def settings_of(bands: Bands) -> dict[str, AlarmSettings]:
    """The settings of every alarm of the collector, by tag."""
    own = {one.alarm.tag: one.alarm for one in bands.at_readings}
    return own | {bands.bad_signal.tag: bands.bad_signal}


def notice_presence(tag: str, standing: frozenset[str] | None) -> Presence:
    """The condition of a notice, as somebody else sees it."""
    if standing is None:
        return Presence.BLIND
    return Presence.PRESENT if tag in standing else Presence.ABSENT


def presence_of(band: Band, present: bool, value: float | None) -> Presence:
    """The band's condition: it comes at or beyond the set point, goes beyond the deadband, and holds between."""
    if value is None or math.isnan(value):
        return Presence.BLIND
    low, high = _interval(band, present)
    return Presence.PRESENT if (low <= value <= high) == present else Presence.ABSENT


def _interval(band: Band, present: bool) -> tuple[float, float]:
    """The closed interval in which the condition stays as it is."""
    # Rounded so that 1.1 − 0.2 is the 0.9 a person means, not 0.9000000000000001.
    if band.side is Side.ABOVE:
        gone_below = round(band.setpoint_inh2o - band.deadband_inh2o, 9)
        return (gone_below, math.inf) if present else (-math.inf, math.nextafter(band.setpoint_inh2o, -math.inf))
    gone_above = round(band.setpoint_inh2o + band.deadband_inh2o, 9)
    return (-math.inf, gone_above) if present else (math.nextafter(band.setpoint_inh2o, math.inf), math.inf)


def is_calm(watch: Watch, seen: Seen, now_s: float) -> bool:
    """Whether what is seen now can change no alarm."""
    if now_s >= watch.due_s or seen.standing != watch.standing:
        return False
    for which, low, high in watch.ranges:
        value: float | None = seen[which]  # type: ignore[assignment]  # the first three are numbers
        if value is None or low is None:
            if value is not None or low is not None:
                return False
        elif not low <= value <= high:
            return False
    return True


def settled(bands: Bands, alarms: Mapping[str, Alarm], seen: Seen, held: Mapping[str, Hold]) -> Watch:
    """The watch with its calm worked out anew."""
    intervals: dict[int, tuple[float, float]] = {0: (-math.inf, math.inf)}
    due = due_s(bands.bad_signal, alarms[bands.bad_signal.tag])
    tick_due = min(due, *(shelf_end_s(alarm) for alarm in alarms.values()))
    for band in bands.bands:
        alarm = alarms[band.alarm.tag]
        due = min(due, due_s(band.alarm, alarm))
        index = INDEX[band.judged]
        low, high = intervals.get(index, (-math.inf, math.inf))
        band_low, band_high = _interval(band, alarm.present)
        intervals[index] = (max(low, band_low), min(high, band_high))
    due = min(due, *(due_s(one.alarm, alarms[one.alarm.tag]) for one in bands.notices), math.inf)
    ranges = tuple(
        Range(index, None if seen[index] is None else low, high) for index, (low, high) in intervals.items()
    )
    return Watch(alarms, ranges, due, tick_due, held, seen.standing)
