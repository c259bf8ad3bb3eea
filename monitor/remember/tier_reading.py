"""Tier reading: rows of chosen points out of one tier of a history file, in the order of time, a page at a time.

A tier is sorted by time, then by point. Stepping from one start to the next visits the wanted points' rows without
reading those of a thousand others between them.
"""

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from monitor.remember.numbering import Numbered, value_of
from monitor.remember.tier import Tier
from monitor.words import HistoryRow, HourRow, PointId, Reason, Role

_COLUMNS: Mapping[Tier, str] = {
    Tier.STEPS: "last, lowest, highest, mean, good, uncertain, bad, worst",
    Tier.MINUTES: "last, lowest, highest, total, good, uncertain, bad, worst",
    Tier.HOURS: (
        "last, lowest, highest, total, quarter_1, quarter_2, quarter_3, quarter_4, uncertain, bad, worst, "
        "first_good_ms, last_good_ms"
    ),
}

_PAGE = """
WITH RECURSIVE step (start) AS (
    SELECT min(start_utc_s) FROM {tier} WHERE start_utc_s >= ?
    UNION ALL
    SELECT (SELECT min(start_utc_s) FROM {tier} WHERE start_utc_s > step.start)
    FROM step WHERE step.start < ? LIMIT ?
)
SELECT step.start, {tier}.point, {columns}
FROM step LEFT JOIN {tier} ON {tier}.start_utc_s = step.start AND {tier}.point IN ({points})
WHERE step.start < ?
"""

_REASONS = frozenset(reason.value for reason in Reason)


class Page(NamedTuple):
    """Rows of the wanted points in the order of time.

    Attributes:
        next_utc_s: where the next page begins; None after the last.
    """

    rows: list[tuple[PointId, HistoryRow]]
    next_utc_s: float | None


def numbers(connection: sqlite3.Connection, *, has_units: bool = True) -> dict[PointId, Numbered]:
    """Every point that was ever recorded; a role that only another version knows is left out."""
    roles = {role.value for role in Role}
    per_unit = "per_unit" if has_units else "1"
    found = connection.execute(f"SELECT collector, role, id, {per_unit} FROM points")  # noqa: S608  ours
    return {PointId(name, Role(role)): Numbered(*rest) for name, role, *rest in found if role in roles}


def page(
    connection: sqlite3.Connection,
    tier: Tier,
    points: Mapping[PointId, Numbered],
    span: tuple[float, float],
    starts: int,
) -> Page:
    """The rows of these points at the first so many starts in [since, until) of that tier."""
    if not points:
        return Page([], None)
    since_utc_s, until_utc_s = span[0], min(span[1], 1e18)
    of_number = {point.number: (name, point.per_unit) for name, point in points.items()}
    question = _PAGE.format(tier=tier, columns=_COLUMNS[tier], points=",".join(map(str, sorted(of_number))))
    found = connection.execute(question, (since_utc_s, until_utc_s, starts, until_utc_s)).fetchall()
    after = found[-1][0] + 1 if found and len({row[0] for row in found}) >= starts else None
    return Page(list(_read(tier, found, of_number)), after)


def _read(
    tier: Tier, found: Sequence[tuple[Any, ...]], of_number: Mapping[int, tuple[PointId, int]]
) -> Iterable[tuple[PointId, HistoryRow]]:
    read = _READERS[tier]
    for start, number, *columns in found:
        if number is not None:
            name, per_unit = of_number[number]
            yield name, read(start, per_unit, columns)


def _step(start: int, _: int, columns: Sequence[Any]) -> HistoryRow:
    last, lowest, highest, mean, good, uncertain, bad, worst = columns
    return HistoryRow(
        start_utc_s=start,
        last=last,
        lowest=lowest,
        highest=highest,
        mean=mean,
        good=good,
        uncertain=uncertain,
        bad=bad,
        worst=_reason(worst),
    )


def _minute(start: int, per_unit: int, columns: Sequence[Any]) -> HistoryRow:
    last, lowest, highest, total, good, uncertain, bad, worst = columns
    return HistoryRow(
        start_utc_s=start,
        last=value_of(last, per_unit),
        lowest=value_of(lowest, per_unit),
        highest=value_of(highest, per_unit),
        mean=None if total is None else total / (per_unit * (good + uncertain)),
        good=good,
        uncertain=uncertain,
        bad=bad,
        worst=_reason(worst),
    )


def _hour(start: int, per_unit: int, columns: Sequence[Any]) -> HourRow:
    last, lowest, highest, total, first, second, third, fourth, uncertain, bad, worst, first_ms, last_ms = columns
    good = first + second + third + fourth
    return HourRow(
        start_utc_s=start,
        last=value_of(last, per_unit),
        lowest=value_of(lowest, per_unit),
        highest=value_of(highest, per_unit),
        mean=None if total is None else total / (per_unit * good),
        good=good,
        uncertain=uncertain,
        bad=bad,
        worst=_reason(worst),
        quarters=(first, second, third, fourth),
        first_good_utc_s=None if first_ms is None else start + first_ms / 1000,
        last_good_utc_s=None if last_ms is None else start + last_ms / 1000,
    )


_READERS = {Tier.STEPS: _step, Tier.MINUTES: _minute, Tier.HOURS: _hour}


def _reason(text: str | None) -> Reason:
    return Reason(text) if text in _REASONS else Reason.NONE
