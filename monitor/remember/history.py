"""History: thinned readings in and out of the history file, and the leaving of the oldest."""

import sqlite3
from collections.abc import Iterable
from typing import Any

from monitor.remember.database import number
from monitor.remember.thinning import PointRow
from monitor.words import HistoryRow, PointId, Reason

# The same step may come twice: after a restart, or when the wall clock was set back. Then both are one row.
_MERGE = """
INSERT INTO history (start_utc_s, point, last, lowest, highest, mean, good, uncertain, bad, worst)
VALUES (?,?,?,?,?,?,?,?,?,?)
ON CONFLICT (start_utc_s, point) DO UPDATE SET
    last = coalesce(excluded.last, last),
    lowest = min(coalesce(lowest, excluded.lowest), coalesce(excluded.lowest, lowest)),
    highest = max(coalesce(highest, excluded.highest), coalesce(excluded.highest, highest)),
    mean = CASE
        WHEN mean IS NULL THEN excluded.mean
        WHEN excluded.mean IS NULL THEN mean
        ELSE (mean * (good + uncertain) + excluded.mean * (excluded.good + excluded.uncertain))
             / (good + uncertain + excluded.good + excluded.uncertain)
    END,
    worst = CASE
        WHEN excluded.bad OR (excluded.uncertain AND NOT bad) THEN excluded.worst
        ELSE worst
    END,
    good = good + excluded.good,
    uncertain = uncertain + excluded.uncertain,
    bad = bad + excluded.bad
"""

# The rows are sorted by time, then by point. Stepping from one start to the next visits the wanted point's rows
# without reading those of a thousand others between them.
_OF_POINT = """
WITH RECURSIVE step (start) AS (
    SELECT min(start_utc_s) FROM history WHERE start_utc_s >= :since
    UNION ALL
    SELECT (SELECT min(start_utc_s) FROM history WHERE start_utc_s > step.start)
    FROM step WHERE step.start < :until
)
SELECT start_utc_s, last, lowest, highest, mean, good, uncertain, bad, worst
FROM step CROSS JOIN history ON history.start_utc_s = step.start AND history.point = :point
WHERE step.start < :until
LIMIT :limit
"""


def add(connection: sqlite3.Connection, rows: Iterable[PointRow], numbers: dict[PointId, int]) -> None:
    """Add finished rows; call it inside a transaction. ``numbers`` remembers the points' numbers in the file."""
    connection.executemany(_MERGE, [_flat(_number(connection, point, numbers), row) for point, row in rows])


def _flat(point: int, row: HistoryRow) -> tuple[object, ...]:
    worst = None if row.worst is Reason.NONE else row.worst.value
    values = (row.last, row.lowest, row.highest, row.mean)
    return (row.start_utc_s, point, *values, row.good, row.uncertain, row.bad, worst)


def _number(connection: sqlite3.Connection, point: PointId, numbers: dict[PointId, int]) -> int:
    known = numbers.get(point)
    if known is None:
        key = (point.collector, point.role.value)
        connection.execute("INSERT OR IGNORE INTO points (collector, role) VALUES (?, ?)", key)
        asked = connection.execute("SELECT id FROM points WHERE collector = ? AND role = ?", key)
        known = numbers[point] = int(asked.fetchone()[0])
    return known


def of_point(
    connection: sqlite3.Connection, point: PointId, since_utc_s: float, until_utc_s: float, limit: int
) -> list[HistoryRow]:
    """Rows of one point that began in [since, until), oldest first, ``limit`` at most."""
    key = (point.collector, point.role.value)
    found = connection.execute("SELECT id FROM points WHERE collector = ? AND role = ?", key).fetchone()
    if found is None:
        return []
    asked = {"point": found[0], "since": since_utc_s, "until": until_utc_s, "limit": limit}
    return [_row(row) for row in connection.execute(_OF_POINT, asked)]


def _row(columns: tuple[Any, ...]) -> HistoryRow:
    start, last, lowest, highest, mean, good, uncertain, bad, worst = columns
    return HistoryRow(
        start_utc_s=start,
        last=last,
        lowest=lowest,
        highest=highest,
        mean=mean,
        good=good,
        uncertain=uncertain,
        bad=bad,
        worst=Reason(worst) if worst in _REASONS else Reason.NONE,
    )


_REASONS = frozenset(reason.value for reason in Reason)


def count(connection: sqlite3.Connection) -> int:
    """Rows in the file, from its own tally."""
    return number(connection, "SELECT history_rows FROM totals")


def drop_oldest(connection: sqlite3.Connection, rows: int, before_utc_s: float = float("inf")) -> int:
    """Delete about ``rows`` of the oldest rows that began before the given second; how many went."""
    asked = connection.execute(
        "SELECT max(start_utc_s) FROM "
        "(SELECT start_utc_s FROM history WHERE start_utc_s < ? ORDER BY start_utc_s LIMIT ?)",
        (before_utc_s, rows),
    )
    last = asked.fetchone()[0]
    if last is None:
        return 0
    return connection.execute("DELETE FROM history WHERE start_utc_s <= ?", (last,)).rowcount
