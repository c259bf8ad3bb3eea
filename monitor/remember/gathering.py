"""Gathering: minutes and hours of the history, made of finished steps as these are written.

Called in the transaction that writes the steps, so after a kill the minutes and hours say what the steps say. The
same minute or hour comes again and again, and is one row.
"""

import sqlite3
from collections.abc import Iterable

from monitor.remember.numbering import Numbered, numbered, whole
from monitor.remember.thinning import PointRow
from monitor.words import PointId, Reason

_MERGE_SHARED = """
    last = coalesce(excluded.last, last),
    lowest = min(coalesce(lowest, excluded.lowest), coalesce(excluded.lowest, lowest)),
    highest = max(coalesce(highest, excluded.highest), coalesce(excluded.highest, highest)),
    total = coalesce(total + excluded.total, total, excluded.total),
    worst = CASE
        WHEN excluded.bad OR (excluded.uncertain AND NOT bad) THEN excluded.worst
        ELSE worst
    END,
    uncertain = uncertain + excluded.uncertain,
    bad = bad + excluded.bad,
"""

_MERGE_MINUTE = f"""
INSERT INTO minutes (start_utc_s, point, last, lowest, highest, total, good, uncertain, bad, worst)
VALUES (?,?,?,?,?,?,?,?,?,?)
ON CONFLICT (start_utc_s, point) DO UPDATE SET
    {_MERGE_SHARED}
    good = good + excluded.good
"""  # noqa: S608  nothing but the text above goes in

_MERGE_HOUR = f"""
INSERT INTO hours (
    start_utc_s, point, last, lowest, highest, total, quarter_1, quarter_2, quarter_3, quarter_4,
    uncertain, bad, worst, first_good_ms, last_good_ms
)
VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)
ON CONFLICT (start_utc_s, point) DO UPDATE SET
    {_MERGE_SHARED}
    quarter_1 = quarter_1 + excluded.quarter_1,
    quarter_2 = quarter_2 + excluded.quarter_2,
    quarter_3 = quarter_3 + excluded.quarter_3,
    quarter_4 = quarter_4 + excluded.quarter_4,
    first_good_ms = min(
        coalesce(first_good_ms, excluded.first_good_ms), coalesce(excluded.first_good_ms, first_good_ms)
    ),
    last_good_ms = max(
        coalesce(last_good_ms, excluded.last_good_ms), coalesce(excluded.last_good_ms, last_good_ms)
    )
"""  # noqa: S608  as above

_QUARTER_S, _HOUR_S = 900, 3600
_Values = tuple[object, ...]


def gather(connection: sqlite3.Connection, parts: Iterable[PointRow], known: dict[PointId, Numbered]) -> None:
    """Add finished parts of steps to their minutes and hours; call it inside a transaction."""
    minutes: list[_Values] = []
    hours: list[_Values] = []
    for part in parts:
        point = numbered(connection, part.point, known)
        minutes.append(_minute(part, point))
        hours.append(_hour(part, point))
    connection.executemany(_MERGE_MINUTE, minutes)
    connection.executemany(_MERGE_HOUR, hours)


def _minute(part: PointRow, point: Numbered) -> _Values:
    row, per_unit = part.row, point.per_unit
    values = (whole(row.last, per_unit), whole(row.lowest, per_unit), whole(row.highest, per_unit))
    total = None if row.mean is None else whole(part.total, per_unit)
    counts = (row.good, row.uncertain, row.bad)
    return (part.minute_utc_s, point.number, *values, total, *counts, _worst(row.worst))


def _hour(part: PointRow, point: Numbered) -> _Values:
    row, good, per_unit = part.row, part.good, point.per_unit
    start = part.minute_utc_s // _HOUR_S * _HOUR_S
    quarters = [0, 0, 0, 0]
    quarters[(part.minute_utc_s - start) // _QUARTER_S] = row.good
    key = (start, point.number, whole(row.last, per_unit))
    counts = (*quarters, row.uncertain, row.bad, _worst(row.worst))
    if good is None:
        return (*key, None, None, None, *counts, None, None)
    values = (whole(good.lowest, per_unit), whole(good.highest, per_unit), whole(good.total, per_unit))
    return (*key, *values, *counts, _ms(good.first_utc_s, start), _ms(good.last_utc_s, start))


def _ms(at_utc_s: float, start: int) -> int:
    """Milliseconds after the start, within the hour."""
    return min(round((at_utc_s - start) * 1000), _HOUR_S * 1000 - 1)


def _worst(reason: Reason) -> str | None:
    return None if reason is Reason.NONE else reason.value
