"""Spans: when hours of the wall clock begin and end, winter and summer.

A boundary, say 02:30, is the first moment at which the wall clock has reached it. So it is there in the night in
which that hour is skipped (the clock jumps over it: it is the moment of the jump) and comes once in the night in
which that hour is repeated (the first time). Shifts that follow one another therefore leave no hole and never hand
back to one another, whatever the clock does.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from monitor.tell.phone.settings import DAY_S, Span

_DAY = timedelta(days=1)


def reached_utc_s(zone: ZoneInfo, day: date, second: int) -> float:
    """The first moment, Unix seconds, at which the wall clock has reached that second of that day.

    Args:
        zone: of the wall clock.
        day: on which the seconds begin.
        second: 0 or more; 86400 and beyond lie on the next day.
    """
    wall = datetime(day.year, day.month, day.day, tzinfo=zone) + timedelta(seconds=second)
    # PEP 495: of a repeated hour fold 0 is the first pass; for a skipped one it reads later than fold 1.
    first, second_pass = wall.replace(fold=0).timestamp(), wall.replace(fold=1).timestamp()
    if first <= second_pass:
        return first
    return float(_jump(zone, wall.replace(tzinfo=None), int(second_pass), int(first)))


def _jump(zone: ZoneInfo, wall: datetime, before_s: int, after_s: int) -> int:
    """The second in which the clock jumps over ``wall``: it lies after ``before_s``, not after ``after_s``."""
    while after_s - before_s > 1:
        middle_s = (before_s + after_s) // 2
        if datetime.fromtimestamp(middle_s, zone).replace(tzinfo=None) >= wall:
            after_s = middle_s
        else:
            before_s = middle_s
    return after_s


def bounds(zone: ZoneInfo, span: Span, day: date) -> tuple[float, float]:
    """When the span that begins on that day begins and ends, Unix seconds; whether it does is not asked."""
    over_midnight = DAY_S if span.until_s <= span.from_s else 0
    return reached_utc_s(zone, day, span.from_s), reached_utc_s(zone, day, span.until_s + over_midnight)


def end_utc_s(zone: ZoneInfo, span: Span, utc_s: float) -> float | None:
    """When the span that covers this moment ends, Unix seconds; None where it does not cover it."""
    today = datetime.fromtimestamp(utc_s, zone).date()
    # The day after as well: a clock set back over midnight has begun it before it reads yesterday again.
    for day in (today - _DAY, today, today + _DAY):
        if day.weekday() in span.days:
            from_s, until_s = bounds(zone, span, day)
            if from_s <= utc_s < until_s:
                return until_s
    return None


def last_utc_s(zone: ZoneInfo, days: Iterable[int], seconds: Iterable[int], utc_s: float) -> float | None:
    """The latest of these hours of these days that is not after this moment, within a week, Unix seconds."""
    return max((one for one in _around(zone, days, seconds, utc_s) if one <= utc_s), default=None)


def next_utc_s(zone: ZoneInfo, days: Iterable[int], seconds: Iterable[int], utc_s: float) -> float | None:
    """The first of these hours of these days that is after this moment, within a week, Unix seconds."""
    return min((one for one in _around(zone, days, seconds, utc_s) if one > utc_s), default=None)


def _around(zone: ZoneInfo, days: Iterable[int], seconds: Iterable[int], utc_s: float) -> list[float]:
    today = datetime.fromtimestamp(utc_s, zone).date()
    near = [today + number * _DAY for number in range(-8, 9)]
    wanted, hours = frozenset(days), tuple(seconds)
    return [reached_utc_s(zone, day, second) for day in near if day.weekday() in wanted for second in hours]
