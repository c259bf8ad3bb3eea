"""Parquet trace: a Parquet file becomes a trace, by way of an extra library that is imported only here."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from math import isfinite
from pathlib import Path
from typing import Any

from monitor.acquire.traces import cells
from monitor.acquire.traces.cells import Complain, Reader
from monitor.acquire.traces.headings import Found, KnownPoints, find_columns
from monitor.acquire.traces.moments import moments_of, told, unix_factor
from monitor.acquire.traces.steps import usual_step_s
from monitor.acquire.traces.trace import CHUNK_ROWS, PROBE_ROWS, Cell, Chunk, Column, Complaints, Trace, TraceError
from monitor.words import PointId

Convert = Callable[[Sequence[Any]], list[float]]


def open_parquet(path: Path, known: KnownPoints, zone: tzinfo | None = None) -> Trace:
    """Open a Parquet file and find out what it holds; the arguments are those of ``open_csv``.

    Raises:
        TraceError: the library is not installed, the file cannot be read, or nothing in it can be made out.
    """
    file = _open(path)
    found = find_columns(path.name, file.schema_arrow.names, known)
    probe = _probe(file, found, path.name)
    times = [at for at in probe[found.time] if at is not None]
    if not times:
        raise TraceError(f"{path.name}: there is no row with a time in it.")
    reading = _Reading(path.name, file, found, _convert(path.name, times[0], zone), Complaints())
    first = reading.chunk(0, probe, float("-inf"), Complaints())
    return Trace(
        name=path.name,
        begins_utc_s=first.utc_s[0],
        columns=tuple(_with_step(column, first) for column in found.columns.values()),
        chunks=replace(reading, convert=_convert(path.name, times[0], zone)).chunks(),
        ignored=found.ignored,
        complaints=reading.complaints,
    )


def _open(path: Path) -> Any:
    try:
        from pyarrow import ArrowException, parquet  # noqa: PLC0415  an extra, and half a second to import
    except ImportError as error:
        raise TraceError(
            f"{path.name}: Parquet files need the library pyarrow: install cakewatch[parquet], or save it as CSV."
        ) from error
    try:
        return parquet.ParquetFile(path)
    except (OSError, ArrowException) as error:
        raise TraceError(f"{path} cannot be read as Parquet ({error}).") from error


def _probe(file: Any, found: Found, name: str) -> dict[int, list[Any]]:
    for batch in file.iter_batches(PROBE_ROWS):
        return _wanted(batch, found)
    raise TraceError(f"{name}: there is no row in it.")


def _wanted(batch: Any, found: Found) -> dict[int, list[Any]]:
    return {at: batch.column(at).to_pylist() for at in (found.time, *found.columns)}


def _convert(name: str, example: Any, zone: tzinfo | None) -> Convert:
    try:
        if isinstance(example, datetime):
            return _datetimes(moments_of(example.isoformat(), zone))
        if isinstance(example, int | float):
            factor = unix_factor(float(example))
            return lambda moments: [moment * factor for moment in moments]
        return moments_of(str(example), zone)
    except ValueError as error:
        raise TraceError(f"{name}: {error}.") from None


def _datetimes(moments: Convert) -> Convert:
    return lambda found: moments([moment.isoformat() for moment in found])


def _with_step(column: Column, chunk: Chunk) -> Column:
    filled = [
        at_s for at_s, cell in zip(chunk.utc_s, chunk.columns[column.point], strict=True) if cell is not None
    ]
    return replace(column, step_s=usual_step_s(filled))


@dataclass(frozen=True, slots=True)
class _Reading:
    """A Parquet file on its way into chunks."""

    name: str
    file: Any
    found: Found
    convert: Convert
    complaints: Complaints

    def chunks(self) -> Iterator[Chunk]:
        last_s, done, total = float("-inf"), 0, max(1, self.file.metadata.num_rows)
        for batch in self.file.iter_batches(CHUNK_ROWS):
            chunk = self.chunk(done, _wanted(batch, self.found), last_s, self.complaints)
            done += batch.num_rows
            if chunk.utc_s:
                last_s = chunk.utc_s[-1]
                yield replace(chunk, share=done / total)

    def chunk(self, begun: int, columns: dict[int, list[Any]], last_s: float, complaints: Complaints) -> Chunk:
        """Some rows as cells; ``begun`` is how many rows came before them."""
        utc_s, rows = self._moments(begun, columns[self.found.time], complaints)
        self._refuse_disorder(utc_s, rows, last_s)
        cells_of: dict[PointId, list[Cell]] = {}
        holes: dict[PointId, list[int]] = {}
        for at, column in self.found.columns.items():

            def complain(place: int, why: str, heading: str = column.heading) -> None:
                complaints.add(f"{self.name}, row {rows[place]}, {heading}: {why}; taken as no reading.")

            values = [columns[at][row - begun - 1] for row in rows]
            taken = _cells(self.found.readers[at], values, complain)
            cells_of[column.point] = taken
            holes[column.point] = [place for place, cell in enumerate(taken) if not isinstance(cell, float)]
        return Chunk(utc_s, cells_of, holes)

    def _moments(self, begun: int, moments: list[Any], complaints: Complaints) -> tuple[list[float], list[int]]:
        """The rows that have a time, numbered from 1."""
        rows = list(range(begun + 1, begun + len(moments) + 1))
        try:
            return self.convert(moments), rows
        except (ValueError, TypeError, AttributeError, OverflowError):
            return self._one_by_one(moments, rows, complaints)

    def _one_by_one(
        self, moments: list[Any], rows: list[int], complaints: Complaints
    ) -> tuple[list[float], list[int]]:
        utc_s: list[float] = []
        kept: list[int] = []
        for row, moment in zip(rows, moments, strict=True):
            try:
                utc_s += self.convert([moment])
                kept.append(row)
            except (ValueError, TypeError, AttributeError, OverflowError):
                complaints.add(f"{self.name}, row {row}: {moment!r} is no time; the row is left out.")
        return utc_s, kept

    def _refuse_disorder(self, utc_s: list[float], rows: list[int], last_s: float) -> None:
        for at_s, row in zip(utc_s, rows, strict=True):
            if at_s < last_s:
                raise TraceError(
                    f"{self.name}, row {row}: time goes back, from {told(last_s)} to {told(at_s)}: "
                    "sort the file by time."
                )
            last_s = at_s


def _cells(reader: Reader, values: Sequence[Any], complain: Complain) -> list[Cell]:
    return [_cell(reader, value, place, complain) for place, value in enumerate(values)]


def _cell(reader: Reader, value: Any, place: int, complain: Complain) -> Cell:
    if value is None:
        return None
    if isinstance(value, bool) or reader.is_yes_no or isinstance(value, str):
        # As if it had been written in a CSV file.
        return cells.read_column(reader, [_as_text(value)], lambda _, why: complain(place, why))[0][0]
    number = float(value) * reader.factor
    return number if isfinite(number) else cells.bad(str(value))


def _as_text(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)
