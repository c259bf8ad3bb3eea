"""Export as Parquet: typed columns that carry their units; by way of an extra library."""

from collections.abc import Iterable, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

from monitor.cli.export_table import Column, Figure, Line, cells
from monitor.errors import CakewatchError

#: Lines of one row group: some megabytes in memory for fifty points.
GROUP_LINES = 10_000
_NOTHING = (None,) * len(Figure)


class NoParquetError(CakewatchError):
    """The library is not installed."""


def write_parquet(path: Path, columns: Sequence[Column], lines: Iterable[Line]) -> None:
    """Write the table, a group of lines at a time.

    Times are UTC timestamps. The metadata of a column name its collector, point, figure and unit.

    Raises:
        NoParquetError: pyarrow is not installed.
        OSError: the file does not take it.
    """
    try:
        import pyarrow as pa  # noqa: PLC0415  an extra, and half a second to import
        from pyarrow import parquet  # noqa: PLC0415  as above
    except ImportError as error:
        raise NoParquetError(
            "Parquet files need the library pyarrow: install cakewatch[parquet], or export --csv."
        ) from error
    schema = _schema(pa, columns)
    rest = iter(lines)
    with parquet.ParquetWriter(path, schema) as writer:
        while group := list(islice(rest, GROUP_LINES)):
            writer.write_batch(pa.record_batch(_arrays(pa, schema, group), schema=schema))


def _schema(pa: Any, columns: Sequence[Column]) -> Any:
    moment = pa.timestamp("ms", tz="UTC")
    fields = [pa.field("begins", moment, nullable=False), pa.field("time", moment, nullable=False)]
    for column in columns:
        kind = pa.int32() if column.figure is Figure.COUNT else pa.float64()
        fields.append(pa.field(column.heading, kind, metadata=_metadata(column)))
    return pa.schema(fields)


def _metadata(column: Column) -> dict[str, str]:
    found = {
        "collector": column.point.collector,
        "point": column.point.role.value,
        "figure": column.figure.value,
    }
    return found | ({"unit": column.unit} if column.unit else {})


def _arrays(pa: Any, schema: Any, group: Sequence[Line]) -> list[Any]:
    begins = [line.begins_utc_s * 1000 for line in group]
    ends = [round(line.ends_utc_s * 1000) for line in group]
    found: list[Sequence[float | None]] = [begins, ends]
    for place in range(len(group[0].rows)):
        rows = (line.rows[place] for line in group)
        found += zip(*(_NOTHING if row is None else cells(row) for row in rows), strict=True)
    return [pa.array(values, type=field.type) for values, field in zip(found, schema, strict=True)]
