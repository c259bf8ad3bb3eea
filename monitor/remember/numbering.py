"""Numbering: the points' numbers in a history file, and the whole numbers their values are kept as.

Minutes and hours keep values as whole numbers of 1 / ``per_unit`` of the inside unit: 1e-6 inH2O, 1e-4 psi,
0.01 cfm, and 1 for yes/no (our choice: a millionth of a usual value, and a twentieth or less of one count of a
16-bit converter over a usual span, so no instrument shows more). Sums of whole numbers do not depend on their
order: minutes, hours and a file that was merged after a restart agree to the last digit.
"""

import sqlite3
from collections.abc import Mapping
from typing import NamedTuple

from monitor.words import PointId, Role

_PER_UNIT: Mapping[Role, int] = {Role.DP: 1_000_000, Role.HEADER_PRESSURE: 10_000, Role.AIR_FLOW: 100}
#: Beyond this a value is kept as a floating-point number; SQLite's whole numbers and their sums end at 9.2e18.
_LARGEST_WHOLE = 1e15


class Numbered(NamedTuple):
    """What a file knows a point by."""

    number: int
    per_unit: int


def numbered(connection: sqlite3.Connection, point: PointId, known: dict[PointId, Numbered]) -> Numbered:
    """The point's number, given now if it has none; ``known`` remembers. Call it inside a transaction."""
    found = known.get(point)
    if found is None:
        per_unit = _PER_UNIT.get(point.role, 1)
        key = (point.collector, point.role.value)
        connection.execute(
            "INSERT OR IGNORE INTO points (collector, role, per_unit) VALUES (?, ?, ?)", (*key, per_unit)
        )
        asked = connection.execute("SELECT id, per_unit FROM points WHERE collector = ? AND role = ?", key)
        found = known[point] = Numbered(*asked.fetchone())
    return found


def whole(value: float | None, per_unit: int) -> int | float | None:
    """A value as it is kept."""
    if value is None:
        return None
    kept = value * per_unit
    return round(kept) if -_LARGEST_WHOLE < kept < _LARGEST_WHOLE else kept


def value_of(kept: float | None, per_unit: int) -> float | None:
    """A kept number in the inside unit."""
    return None if kept is None else kept / per_unit
