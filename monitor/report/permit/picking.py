"""Picking: which readings of an hour go into its average?

Usually all good ones, and the hour's own row tells them. Where the unit ran for a part of the hour only, or the
monitor was under maintenance, the minutes are asked: readings of a standing unit would pull the average down, and
those "recorded during periods of continuous monitoring system breakdowns, repairs, calibration checks" stay out of
it (40 CFR 60.13(h)(2)(vi)). Where those minutes are no longer kept, the whole hour must do, and that is said.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from monitor.judge.performance.span import Span
from monitor.report.permit.hour import HOUR_S, MINUTE_S, Four
from monitor.report.permit.operation import Operation, is_split
from monitor.report.permit.valid_hour import Points
from monitor.words import HistoryRow, HourRow

_NONE: Four = (0, 0, 0, 0)


class Picked(NamedTuple):
    """The readings of one hour that count.

    Attributes:
        by_minutes: minute by minute; else all that the hour has.
        total: readings of the hour, of every quality.
    """

    points: Points = Points(_NONE, _NONE)
    mean: float | None = None
    lowest: float | None = None
    highest: float | None = None
    first_utc_s: float | None = None
    last_utc_s: float | None = None
    by_minutes: bool = False
    total: int = 0


def to_split(
    period: Span, hours: Iterable[HourRow], fan_hours: Iterable[HourRow] | None, maintenance: Iterable[Span]
) -> tuple[int, ...]:
    """The begins of the hours whose minutes are needed, in order, Unix seconds."""
    split = {row.start_utc_s for row in fan_hours or () if is_split(row)}
    spans = [one.within(period) for one in maintenance]
    in_part = {row.start_utc_s for row in hours if any(_in_part(row.start_utc_s, span) for span in spans)}
    return tuple(sorted(start for start in split | in_part if period.holds(start)))


def _in_part(start_utc_s: int, span: Span) -> bool:
    """Whether it covers a part of the hour, but not all of it."""
    return 0.0 < span.within(Span(start_utc_s, start_utc_s + HOUR_S)).length_s < HOUR_S


def pick(
    row: HourRow | None,
    operation: Operation,
    maintenance: Sequence[Span],
    minutes: Mapping[int, HistoryRow],
) -> Picked:
    """The readings of one hour that count.

    Args:
        row: of the DP; None where there is none.
        operation: how the unit ran.
        maintenance: the parts of this hour in which the monitor was under maintenance.
        minutes: the DP's minutes of this hour, by number from 0 to 59; empty where they are not kept.
    """
    if row is None:
        return Picked()
    out = sum(span.length_s for span in maintenance)
    if out >= HOUR_S:
        return Picked(total=_total(row))
    if minutes and (operation.minutes is not None or out > 0.0):
        return _by_minutes(row, operation, maintenance, minutes)
    return _whole(row)


def _total(row: HistoryRow) -> int:
    return row.good + row.uncertain + row.bad


def _whole(row: HourRow) -> Picked:
    first, last = row.first_good_utc_s, row.last_good_utc_s
    apart_s = 0.0 if first is None or last is None else last - first
    return Picked(
        Points(row.quarters, row.quarters, apart_s),
        row.mean,
        row.lowest,
        row.highest,
        first,
        last,
        total=_total(row),
    )


def _by_minutes(
    row: HourRow, operation: Operation, maintenance: Sequence[Span], minutes: Mapping[int, HistoryRow]
) -> Picked:
    # A minute's mean is over its uncertain readings too, so a minute that has any is left out.
    good = {
        number: one
        for number, one in sorted(minutes.items())
        if one.good and not one.uncertain and not _touched(one.start_utc_s, maintenance)
    }
    used = {
        number: one for number, one in good.items() if operation.minutes is None or number in operation.minutes
    }
    measured = _quarters(good)
    if not used:
        return Picked(Points(_NONE, measured), by_minutes=True, total=_total(row))
    rows = list(used.values())
    count = sum(one.good for one in rows)
    first_utc_s, last_utc_s, apart_s = _ends(row, rows[0].start_utc_s, rows[-1].start_utc_s)
    return Picked(
        Points(_quarters(used), measured, apart_s),
        sum(one.good * one.mean for one in rows if one.mean is not None) / count,
        min(one.lowest for one in rows if one.lowest is not None),
        max(one.highest for one in rows if one.highest is not None),
        first_utc_s,
        last_utc_s,
        by_minutes=True,
        total=_total(row),
    )


def _touched(start_utc_s: int, maintenance: Sequence[Span]) -> bool:
    minute = Span(start_utc_s, start_utc_s + MINUTE_S)
    return any(span.within(minute).length_s > 0.0 for span in maintenance)


def _quarters(minutes: Mapping[int, HistoryRow]) -> Four:
    first, second, third, fourth = (
        sum(row.good for number, row in minutes.items() if number // 15 == quarter) for quarter in range(4)
    )
    return first, second, third, fourth


def _ends(row: HourRow, first_utc_s: int, last_utc_s: int) -> tuple[float, float, float]:
    """The first and the last reading, and how far apart they are at least: a minute does not tell its second."""
    first, last = float(first_utc_s), float(last_utc_s)
    latest, earliest = first + MINUTE_S, last
    if row.first_good_utc_s is not None and first <= row.first_good_utc_s < first + MINUTE_S:
        first = latest = row.first_good_utc_s
    if row.last_good_utc_s is not None and last <= row.last_good_utc_s < last + MINUTE_S:
        last = earliest = row.last_good_utc_s
    return first, last, max(0.0, earliest - latest)
