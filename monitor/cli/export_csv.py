"""Export as CSV: RFC 4180, a heading with units, times in ISO 8601 and UTC."""

import csv
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import IO

from monitor.cli.export_table import Column, Figure, Line, cells
from monitor.words import HistoryRow

#: Stands for a last reading that was not good; ``cakewatch rehearse`` takes it for a bad reading.
BAD = "bad"
_WIDTH = len(Figure)
_NOTHING = ("",) * _WIDTH


def write_csv(file: IO[str], columns: Sequence[Column], lines: Iterable[Line]) -> None:
    """Write the table as it comes.

    Raises:
        OSError: the file does not take it.
    """
    writer = csv.writer(file)
    writer.writerow(["begins", "time", *(column.heading for column in columns)])
    for line in lines:
        writer.writerow([_stamp(line.begins_utc_s), _stamp(line.ends_utc_s), *_cells(line.rows)])


def _stamp(utc_s: float) -> str:
    return datetime.fromtimestamp(utc_s, UTC).isoformat().removesuffix("+00:00") + "Z"


def _cells(rows: Sequence[HistoryRow | None]) -> Iterator[float | str | None]:
    for row in rows:
        if row is None:
            yield from _NOTHING
            continue
        last, *others = cells(row)
        yield BAD if last is None else last
        yield from others
