"""Local days: to which day, month and averaging block of the site's clock does an hour belong?

An hour belongs to the day in which it begins. Where the clocks change, a day has 23 or 25 hours. The blocks over
which averages run are counted off from local midnight by the wall clock (00:00, 03:00, 06:00… for three hours),
so that they begin at the same times all year; the block in which the clocks change has an hour less or more, and
where the length does not divide 24 the last block of the day is shorter (our choice; the rules do not say).
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import groupby
from typing import TypeVar

from monitor.judge.performance.span import Span
from monitor.report.permit.hour import HOUR_S

_Item = TypeVar("_Item")
_Key = TypeVar("_Key")


def local(utc_s: float, zone: tzinfo) -> datetime:
    """A moment on the site's clock."""
    return datetime.fromtimestamp(utc_s, UTC).astimezone(zone)


def midnight(day: date, zone: tzinfo) -> float:
    """Unix seconds at which a day of the site's clock begins.

    Where the clocks skip midnight itself, that is the first moment there is.
    """
    return datetime.combine(day, time(), zone).astimezone(UTC).timestamp()


def days(first: date, end: date, zone: tzinfo) -> Span:
    """From the begin of one day up to the begin of another."""
    return Span(midnight(first, zone), midnight(end, zone))


def month(year: int, number: int, zone: tzinfo) -> Span:
    """One month of the site's clock; ``number`` from 1 to 12."""
    first = date(year, number, 1)
    return days(first, (first + timedelta(days=31)).replace(day=1), zone)


def year(number: int, zone: tzinfo) -> Span:
    """One year of the site's clock."""
    return days(date(number, 1, 1), date(number + 1, 1, 1), zone)


def day_of(start_utc_s: float, zone: tzinfo) -> date:
    """The day in which an hour begins."""
    return local(start_utc_s, zone).date()


def block_of(start_utc_s: float, hours: int, zone: tzinfo) -> tuple[date, int]:
    """The day and the number, from 0, of the averaging block in which an hour begins."""
    begin = local(start_utc_s, zone)
    return begin.date(), begin.hour // hours


def block_reaches_beyond(start_utc_s: float, hours: int, zone: tzinfo) -> bool:
    """Whether the hour after this one belongs to the same block."""
    return block_of(start_utc_s, hours, zone) == block_of(start_utc_s + HOUR_S, hours, zone)


def grouped(items: Iterable[_Item], key: Callable[[_Item], _Key]) -> Iterator[tuple[_Key, Sequence[_Item]]]:
    """Neighbours of the same key together."""
    for value, some in groupby(items, key):
        yield value, tuple(some)
