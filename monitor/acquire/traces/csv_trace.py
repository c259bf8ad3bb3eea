"""CSV trace: a CSV file with a heading becomes a trace.

Nearly every row is in order, so whole columns are read at a time; only where that fails is a block looked at row
by row, and what is wrong in it told with its line.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo
from pathlib import Path

from monitor.acquire.traces import cells
from monitor.acquire.traces.cells import Reader
from monitor.acquire.traces.csv_file import CsvFile, Row
from monitor.acquire.traces.headings import Found, KnownPoints, find_columns
from monitor.acquire.traces.moments import Moments, moments_of, told
from monitor.acquire.traces.steps import usual_step_s
from monitor.acquire.traces.trace import Cell, Chunk, Column, Complaints, Trace, TraceError
from monitor.words import PointId


def open_csv(path: Path, known: KnownPoints, zone: tzinfo | None = None) -> Trace:
    """Open a CSV file and find out what it holds.

    Args:
        path: the file; it may be packed with gzip.
        known: the points of the site.
        zone: where times without a zone were recorded.

    Raises:
        TraceError: it cannot be read, or nothing in it can be made out.
    """
    file = CsvFile(path)
    try:
        return _trace(file, known, zone)
    except BaseException:
        file.close()
        raise


def _trace(file: CsvFile, known: KnownPoints, zone: tzinfo | None) -> Trace:
    found = find_columns(file.name, file.headings, known)
    readers = {at: replace(reader, decimal_comma=file.has_decimal_comma) for at, reader in found.readers.items()}
    example = _first_time(file, found.time)
    reading = _Reading(file, len(file.headings), found, readers, _moments(file, example, zone), Complaints())
    first = reading.chunk(2, file.probe, float("-inf"), Complaints())
    if not first.utc_s:
        raise TraceError(f"{file.name}: none of its first {len(file.probe)} rows can be read.")
    return Trace(
        name=file.name,
        begins_utc_s=first.utc_s[0],
        columns=tuple(_with_step(column, first) for column in found.columns.values()),
        # Made anew: a reader of local times remembers the last of them.
        chunks=replace(reading, moments=_moments(file, example, zone)).chunks(),
        ignored=found.ignored,
        notes=(f"{file.name} has decimal commas: 4,32 is taken as 4.32.",) if file.has_decimal_comma else (),
        complaints=reading.complaints,
    )


def _first_time(file: CsvFile, column: int) -> str:
    """The first cell of the time column that holds anything."""
    for row in file.probe:
        if len(row) > column and row[column].strip():
            return row[column]
    raise TraceError(f"{file.name}: there is no row with a time under its heading.")


def _moments(file: CsvFile, example: str, zone: tzinfo | None) -> Moments:
    try:
        return moments_of(example, zone)
    except ValueError as error:
        raise TraceError(f"{file.name}: {error}.") from None


def _with_step(column: Column, chunk: Chunk) -> Column:
    filled = [
        at_s for at_s, cell in zip(chunk.utc_s, chunk.columns[column.point], strict=True) if cell is not None
    ]
    return replace(column, step_s=usual_step_s(filled))


@dataclass(frozen=True, slots=True)
class _Reading:
    """A CSV file on its way into chunks."""

    file: CsvFile
    width: int
    found: Found
    readers: dict[int, Reader]
    moments: Moments
    complaints: Complaints

    def chunks(self) -> Iterator[Chunk]:
        last_s = float("-inf")
        for line, rows in self.file.blocks():
            chunk = self.chunk(line, rows, last_s, self.complaints)
            if chunk.utc_s:
                last_s = chunk.utc_s[-1]
                yield chunk

    def chunk(self, line: int, rows: list[Row], last_s: float, complaints: Complaints) -> Chunk:
        """Some rows as columns; ``line`` is the number of the first of them."""
        lines: Sequence[int] = range(line, line + len(rows))
        try:
            by_column = list(zip(*rows, strict=True))
            utc_s = self.moments(by_column[self.found.time]) if len(by_column) == self.width else None
        except (ValueError, IndexError, OverflowError):
            utc_s = None
        if utc_s is None:
            utc_s, by_column, lines = self._row_by_row(line, rows, complaints)
        self._refuse_disorder(utc_s, lines, last_s)
        columns: dict[PointId, list[Cell]] = {}
        holes: dict[PointId, list[int]] = {}
        for at, column in self.found.columns.items():
            texts = by_column[at] if by_column else ()

            def complain(place: int, why: str, heading: str = column.heading) -> None:
                complaints.add(f"{self.file.name}, line {lines[place]}, {heading}: {why}; taken as no reading.")

            columns[column.point], holes[column.point] = cells.read_column(self.readers[at], texts, complain)
        return Chunk(utc_s, columns, holes, self.file.share)

    def _row_by_row(
        self, line: int, rows: list[Row], complaints: Complaints
    ) -> tuple[list[float], list[tuple[str, ...]], list[int]]:
        """The rows that can be read, and the others told of."""
        utc_s: list[float] = []
        kept: list[Row] = []
        lines: list[int] = []
        for number, row in enumerate(rows, start=line):
            if not any(row):
                continue
            try:
                if len(row) != self.width:
                    raise ValueError(f"{len(row)} cells where the heading has {self.width}")
                utc_s += self.moments([row[self.found.time]])
            except (ValueError, OverflowError) as error:
                complaints.add(f"{self.file.name}, line {number}: {error}; the line is left out.")
                continue
            kept.append(row)
            lines.append(number)
        return utc_s, list(zip(*kept, strict=True)), lines

    def _refuse_disorder(self, utc_s: list[float], lines: Sequence[int], last_s: float) -> None:
        if not utc_s or (utc_s[0] >= last_s and utc_s == sorted(utc_s)):
            return
        for at_s, line in zip(utc_s, lines, strict=True):
            if at_s < last_s:
                raise TraceError(
                    f"{self.file.name}, line {line}: time goes back, from {told(last_s)} to {told(at_s)}: "
                    "sort the file by time."
                )
            last_s = at_s
