"""Wording, times: a moment by the site's wall clock, with the day where it is not today."""

import math
from datetime import datetime, tzinfo

from monitor.tell.notation import duration

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_DAY_MIN = 1440
_LEAST_S, _MOST_S = 86400.0, 253402200000.0  # what every time zone can show


def by_the_clock(utc_s: float, now_utc_s: float, zone: tzinfo) -> str:
    """``14:05`` today, ``Tue 24 Nov 14:05`` on another day (with the year where it is another).

    The words are ours, never the machine's language. Both moments in Unix seconds.
    """
    then, now = _local(utc_s, zone), _local(now_utc_s, zone)
    clock = f"{then:%H:%M}"
    if then.date() == now.date():
        return clock
    year = "" if then.year == now.year else f" {then.year}"
    return f"{_DAYS[then.weekday()]} {then.day} {_MONTHS[then.month - 1]}{year} {clock}"


def so_long(seconds: float) -> str:
    """How long: ``under 1 min``, ``25 min``, ``2 h 5 min``, and from two days on ``3 days``, rounded."""
    if not math.isfinite(seconds) or seconds < 60:
        return "under 1 min"
    minutes = int(min(seconds, _MOST_S) // 60)
    if minutes >= 2 * _DAY_MIN:
        return f"{round(minutes / _DAY_MIN)} days"
    return f"{minutes} min" if minutes < 120 else duration(60 * minutes)


def _local(utc_s: float, zone: tzinfo) -> datetime:
    sane = min(max(utc_s, _LEAST_S), _MOST_S) if math.isfinite(utc_s) else _LEAST_S
    return datetime.fromtimestamp(sane, zone)
