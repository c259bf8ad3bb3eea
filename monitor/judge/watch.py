"""Watch: all the alarms of one collector together, and the region in which nothing can happen to them.

Nearly every sample lies well inside the bands. After each real step the watch notes the *calm*: the interval of
each judged quantity, and the moment, up to which no alarm can change. A sample inside the calm costs two
comparisons, which is what lets a month of one-second samples be judged in seconds. The calm is derived from
the alarms alone, so it decides nothing by itself.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from monitor.judge.lifecycle import (
    Alarm,
    Presence,
    Transition,
    advance,
    command_between,
    confirm,
    due_s,
    pause,
)
from monitor.judge.settings import AlarmSettings, Band, Judged, Side
from monitor.judge.table import Trigger
from monitor.words import Instant


class Seen(NamedTuple):
    """What can be judged now, inH2O; None where it cannot be trusted. ``damped`` None is a bad signal."""

    damped: float | None
    residual: float | None
    average: float | None


_INDEX: Mapping[Judged, int] = {Judged.DAMPED: 0, Judged.RESIDUAL: 1, Judged.AVERAGE: 2}


@dataclass(frozen=True, slots=True)
class Bands:
    """The alarms of one collector as the site file sets them."""

    bands: tuple[Band, ...]
    bad_signal: AlarmSettings


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
        bad_due_s: the same of the bad signal alone, which needs no reading to run out.
    """

    alarms: Mapping[str, Alarm]
    ranges: tuple[Range, ...]
    due_s: float
    bad_due_s: float


def begin(bands: Bands, alarms: Mapping[str, Alarm]) -> Watch:
    """Begin, or go on with remembered alarms; tags without a memory begin normal, others are dropped."""
    tags = [band.alarm.tag for band in bands.bands] + [bands.bad_signal.tag]
    # No calm yet: the first look must compare everything.
    return Watch({tag: alarms.get(tag, Alarm()) for tag in tags}, (), -math.inf, -math.inf)


def look(
    bands: Bands, watch: Watch, seen: Seen, now: Instant, looked_s: float | None = None
) -> tuple[Watch, tuple[Transition, ...]]:
    """Judge what is seen now. Returns the same watch where nothing could happen.

    Args:
        bands: the alarms as they are set.
        watch: as it was.
        seen: the judged quantities of a new reading.
        now: the moment of this look.
        looked_s: the moment of the look before; the time in between counts for a delay only where both saw the
            same. None: no look before, or too long ago to speak for the time in between.
    """
    if is_calm(watch, seen, now.mono_s):
        return watch, ()
    looked_s = now.mono_s if looked_s is None else looked_s
    alarms: dict[str, Alarm] = {}
    fired: tuple[Transition, ...] = ()
    for band in bands.bands:
        tag = band.alarm.tag
        value = seen[_INDEX[band.judged]]
        presence = presence_of(band, watch.alarms[tag].present, value)
        alarms[tag], done = confirm(band.alarm, watch.alarms[tag], presence, now, looked_s)
        fired += done
    bad = bands.bad_signal
    presence = Presence.PRESENT if seen.damped is None else Presence.ABSENT
    alarms[bad.tag], done = advance(bad, watch.alarms[bad.tag], presence, now)
    return _settled(bands, alarms, seen), _in_order(fired + done)


def wait(bands: Bands, watch: Watch, seen: Seen, now: Instant) -> tuple[Watch, tuple[Transition, ...]]:
    """Time passed without a new reading: only the bad signal's own delays can run out by that.

    ``seen`` is what the last look saw.
    """
    if now.mono_s < watch.bad_due_s:
        return watch, ()
    bad = bands.bad_signal
    presence = Presence.PRESENT if seen.damped is None else Presence.ABSENT
    alarm, fired = advance(bad, watch.alarms[bad.tag], presence, now)
    return _settled(bands, {**watch.alarms, bad.tag: alarm}, seen), fired


def blinded(bands: Bands, watch: Watch, looked_s: float) -> Watch:
    """Nobody looked for too long: every band's clocks stand still as of the last look."""
    alarms = dict(watch.alarms)
    for band in bands.bands:
        alarms[band.alarm.tag] = pause(alarms[band.alarm.tag], looked_s)
    return Watch(alarms, (), -math.inf, -math.inf)


def tell(
    bands: Bands, watch: Watch, tag: str, trigger: Trigger, now: Instant, looked_s: float | None = None
) -> tuple[Watch, tuple[Transition, ...]]:
    """A person acknowledges or clears one alarm; KeyError for a tag that is not ours."""
    at_s = now.mono_s if looked_s is None else looked_s
    alarm, fired = command_between(settings_of(bands)[tag], watch.alarms[tag], trigger, now, at_s)
    return Watch({**watch.alarms, tag: alarm}, (), -math.inf, -math.inf), fired


def settings_of(bands: Bands) -> dict[str, AlarmSettings]:
    """The settings of every alarm of the collector, by tag."""
    return {band.alarm.tag: band.alarm for band in bands.bands} | {bands.bad_signal.tag: bands.bad_signal}


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
    if now_s >= watch.due_s:
        return False
    for which, low, high in watch.ranges:
        value = seen[which]
        if value is None or low is None:
            if value is not None or low is not None:
                return False
        elif not low <= value <= high:
            return False
    return True


def _settled(bands: Bands, alarms: Mapping[str, Alarm], seen: Seen) -> Watch:
    """The watch with its calm worked out anew."""
    intervals: dict[int, tuple[float, float]] = {0: (-math.inf, math.inf)}
    bad_due = due = due_s(bands.bad_signal, alarms[bands.bad_signal.tag])
    for band in bands.bands:
        alarm = alarms[band.alarm.tag]
        due = min(due, due_s(band.alarm, alarm))
        index = _INDEX[band.judged]
        low, high = intervals.get(index, (-math.inf, math.inf))
        band_low, band_high = _interval(band, alarm.present)
        intervals[index] = (max(low, band_low), min(high, band_high))
    ranges = tuple(
        Range(index, None if seen[index] is None else low, high) for index, (low, high) in intervals.items()
    )
    return Watch(alarms, ranges, due, bad_due)


def _in_order(fired: tuple[Transition, ...]) -> tuple[Transition, ...]:
    return tuple(sorted(fired, key=lambda transition: transition.at.mono_s)) if len(fired) > 1 else fired
