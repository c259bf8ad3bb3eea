"""Export table: rows of the history side by side, a line for each step, and the columns of each point.

The first column of a point is headed so that ``cakewatch rehearse`` knows it again.
"""

from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum
from itertools import groupby
from typing import NamedTuple

from monitor.words import UNIT_OF_ROLE, HistoryRow, PointId


class Figure(StrEnum):
    """One column of a point."""

    LAST = "last"
    LOWEST = "min"
    MEAN = "mean"
    HIGHEST = "max"
    COUNT = "count"
    GOOD = "good share"
    UNCERTAIN = "uncertain share"
    BAD = "bad share"

    @property
    def has_unit(self) -> bool:
        """Whether it is in the unit of the point."""
        return self in (Figure.LAST, Figure.LOWEST, Figure.MEAN, Figure.HIGHEST)


class Column(NamedTuple):
    """One column of the table; ``unit`` is empty for shares, counts and yes/no points."""

    point: PointId
    figure: Figure
    unit: str

    @property
    def heading(self) -> str:
        """What stands above it: ``DC-101.dp (inH2O)``, ``DC-101.dp mean (inH2O)``, ``DC-101.dp count``."""
        name = f"{self.point.collector}.{self.point.role.value}"
        if self.figure is not Figure.LAST:
            name = f"{name} {self.figure.value}"
        return f"{name} ({self.unit})" if self.unit else name


class Line(NamedTuple):
    """One step.

    Attributes:
        begins_utc_s, ends_utc_s: Unix seconds.
        rows: for each point its row; None where it has none.
    """

    begins_utc_s: int
    ends_utc_s: float
    rows: Sequence[HistoryRow | None]


def columns(points: Iterable[PointId]) -> list[Column]:
    """The columns of these points, in order."""
    return [
        Column(point, figure, UNIT_OF_ROLE.get(point.role, "") if figure.has_unit else "")
        for point in points
        for figure in Figure
    ]


def lines(rows: Iterable[tuple[PointId, HistoryRow]], points: Sequence[PointId], step_s: float) -> Iterator[Line]:
    """The rows, which come in the order of time, side by side."""
    place = {point: at for at, point in enumerate(points)}
    for begins, same in groupby(rows, key=lambda row: row[1].start_utc_s):
        found: list[HistoryRow | None] = [None] * len(points)
        for point, row in same:
            found[place[point]] = row
        yield Line(begins, begins + step_s, found)


def cells(row: HistoryRow) -> tuple[float | None, ...]:
    """The figures of a row, in the order of ``Figure``; the last one only where a reading was good."""
    count = row.good + row.uncertain + row.bad
    last = row.last if row.good else None
    shares = (row.good / count, row.uncertain / count, row.bad / count)
    return (last, row.lowest, row.mean, row.highest, count, *shares)
