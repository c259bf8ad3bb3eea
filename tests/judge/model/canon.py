"""Canon: an alarm as of the second 0, with every count capped where more of it makes no difference.

Two alarms with the same canon live the same from now on: clocks are compared with one another only, stamps with
nothing, and a timer that has counted its length is due, however much longer it counted.
"""

from dataclasses import replace

from monitor.judge.alarm import Alarm, Timer
from monitor.judge.settings import AlarmSettings
from monitor.words import Instant

UTC = 1_700_000_000.0

#: Stamp of every raising before the present stride.
RAISED_UTC_S = UTC - 1000.0


def at(mono_s: float) -> Instant:
    return Instant(mono_s, UTC + mono_s)


def canonical(conf: AlarmSettings, alarm: Alarm, now_s: float, looked_s: float, age_s: float) -> Alarm:
    """The alarm of ``now_s`` as one of second 0; clocks are counted up to the last look, then ``age_s`` ago."""
    back_s = -float(age_s)
    shelf = alarm.shelf
    if shelf is not None:
        left_s = shelf.until_s - now_s
        shelf = shelf._replace(until_s=left_s, until_utc_s=UTC + left_s, since_utc_s=UTC)
    return replace(
        alarm,
        delay=_timer(alarm.delay, looked_s, back_s, None),
        returned=_timer(alarm.returned, looked_s, back_s, conf.auto_clear_s or 0.0),
        easing=_easing(alarm.easing, now_s),
        raised_utc_s=None if alarm.raised_utc_s is None else RAISED_UTC_S,
        since_utc_s=None if alarm.since_utc_s is None else UTC,
        shelf=shelf,
        removal=None if alarm.removal is None else alarm.removal._replace(since_utc_s=UTC),
    )


def _timer(timer: Timer | None, looked_s: float, back_s: float, cap_s: float | None) -> Timer | None:
    if timer is None:
        return None
    # A clock that began since then is behind by as much, at the most.
    counted_s = max(back_s, timer.stopped(looked_s).counted_s)
    if cap_s is not None:
        counted_s = min(counted_s, cap_s)
    return Timer(counted_s, None if timer.since_s is None else back_s)


def _easing(easing: Timer | None, now_s: float) -> Timer | None:
    """What is left of an on-delay that is counted back, as of now; None when nothing is left of it."""
    if easing is None:
        return None
    stands_still = easing.since_s is None
    left_s = easing.counted_s - (0.0 if stands_still else now_s - easing.since_s)
    return Timer(left_s, None if stands_still else 0.0) if left_s > 0 else None
