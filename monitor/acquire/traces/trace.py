"""Trace: recorded samples of some points, in chunks that fit in little memory whatever the file's size.

A cell is a number in the inside unit of its point (1.0 or 0.0 for a yes/no point), None where that row has no
reading of it, or the failure that the recording tells of.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from monitor.errors import PlantError
from monitor.words import Failure, PointId

Cell = float | Failure | None

#: Rows taken in at once; large enough that the work on whole columns pays, small enough to stay in the cache.
CHUNK_ROWS = 4096
#: Rows at the beginning of a trace by which its columns, its zone and its usual step are recognised.
PROBE_ROWS = 1000
#: Wrong lines that are named one by one; the rest are counted.
MAX_NAMED = 5


class TraceError(PlantError):
    """A recording cannot be taken in; the message says where, why and what to do."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """Some rows of a trace, oldest first.

    Attributes:
        utc_s: Unix seconds of each row, never falling.
        columns: for each point as many cells as there are rows.
        holes: for each point the row numbers of the cells that are no number, rising.
        share: how much of the whole trace has been read by now, 0 to 1.
    """

    utc_s: list[float]
    columns: Mapping[PointId, list[Cell]]
    holes: Mapping[PointId, list[int]]
    share: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a recording, and what it is taken for.

    Attributes:
        heading: as it stands in the file.
        unit: in which its numbers are taken; empty for a yes/no point.
        is_unit_stated: the file or the command line names the unit; else it is the site's own.
        step_s: how far its readings usually lie apart, seconds; None where there is only one.
    """

    heading: str
    point: PointId
    unit: str
    is_unit_stated: bool
    step_s: float | None = None


@dataclass(slots=True)
class Complaints:
    """What was wrong in a recording and passed over: the first few by name, all by count."""

    count: int = 0
    named: list[str] = field(default_factory=list)

    def add(self, sentence: str) -> None:
        """Count one wrong line or cell."""
        self.count += 1
        if len(self.named) < MAX_NAMED:
            self.named.append(sentence)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """An open recording. ``chunks`` can be walked through once.

    Attributes:
        name: of the file, for sentences.
        begins_utc_s: Unix seconds of its first row.
        ignored: headings of columns that are no point of the site.
        notes: what was assumed in reading it, each one sentence.
    """

    name: str
    begins_utc_s: float
    columns: tuple[Column, ...]
    chunks: Iterator[Chunk]
    ignored: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    complaints: Complaints = field(default_factory=Complaints)

    @property
    def points(self) -> frozenset[PointId]:
        """The points it has readings of."""
        return frozenset(column.point for column in self.columns)
