"""History: finished steps in and out of the history file, and the leaving of a tier's oldest."""

import sqlite3
from collections.abc import Iterable

from monitor.remember.database import number
from monitor.remember.numbering import Numbered, numbered
from monitor.remember.thinning import PointRow
from monitor.remember.tier import Tier
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


def add(connection: sqlite3.Connection, parts: Iterable[PointRow], known: dict[PointId, Numbered]) -> None:
    """Add finished steps; call it inside a transaction. ``known`` remembers the points' numbers in the file."""
    connection.executemany(
        _MERGE, [_flat(numbered(connection, part.point, known).number, part.row) for part in parts]
    )


def _flat(point: int, row: HistoryRow) -> tuple[object, ...]:
    worst = None if row.worst is Reason.NONE else row.worst.value
    values = (row.last, row.lowest, row.highest, row.mean)
    return (row.start_utc_s, point, *values, row.good, row.uncertain, row.bad, worst)


def count(connection: sqlite3.Connection) -> int:
    """Steps in the file, from its own tally."""
    return number(connection, "SELECT history_rows FROM totals")


def drop_oldest(
    connection: sqlite3.Connection, rows: int, before_utc_s: float = float("inf"), tier: Tier = Tier.STEPS
) -> int:
    """Delete about ``rows`` of a tier's oldest rows that began before the given second; how many went."""
    asked = connection.execute(
        "SELECT max(start_utc_s) FROM "  # noqa: S608  a name of ours
        f"(SELECT start_utc_s FROM {tier} WHERE start_utc_s < ? ORDER BY start_utc_s LIMIT ?)",
        (before_utc_s, rows),
    )
    last = asked.fetchone()[0]
    if last is None:
        return 0
    return connection.execute(f"DELETE FROM {tier} WHERE start_utc_s <= ?", (last,)).rowcount  # noqa: S608  ours
