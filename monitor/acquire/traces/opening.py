"""Opening: a recording by the ending of its name."""

from datetime import tzinfo
from pathlib import Path

from monitor.acquire.traces.csv_trace import open_csv
from monitor.acquire.traces.headings import KnownPoints
from monitor.acquire.traces.parquet_trace import open_parquet
from monitor.acquire.traces.trace import Trace

_PARQUET = frozenset((".parquet", ".pq"))


def open_trace(path: Path, known: KnownPoints, zone: tzinfo | None = None) -> Trace:
    """Open a recording: Parquet by its ending (``.parquet``, ``.pq``), CSV otherwise.

    Raises:
        TraceError: it cannot be read, or nothing in it can be made out.
    """
    opened = open_parquet if path.suffix.casefold() in _PARQUET else open_csv
    return opened(path, known, zone)
