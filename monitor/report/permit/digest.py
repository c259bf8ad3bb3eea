"""Digest: a short number by which two printings of the same records can be compared.

SHA-256 over the rows of the history that the figures are made of, each as one line of text with its numbers
written in full (as ``repr`` does), in a fixed order. Whoever prints again and gets another digest had other
readings. What people entered has a digest of its own: a cause recorded next week changes that one, and not the
readings'.
"""

from collections.abc import Iterable, Iterator
from hashlib import sha256

from monitor.report.permit.sources import Sources
from monitor.words import HistoryRow, HourRow


def of_readings(sources: Sources) -> str:
    """64 hexadecimal digits."""
    return _hashed(_reading_lines(sources))


def of_entries(sources: Sources) -> str:
    """64 hexadecimal digits."""
    return _hashed(_entry_lines(sources))


def _hashed(lines: Iterable[str]) -> str:
    found = sha256()
    for line in lines:
        found.update(line.encode("utf-8", "backslashreplace") + b"\n")
    return found.hexdigest()


def _reading_lines(sources: Sources) -> Iterator[str]:
    yield f"collector {sources.collector!r}"
    yield from (_line("dp hour", row) for row in sources.hours)
    yield from (_line("fan hour", row) for row in sources.fan_hours or ())
    yield from (_line("dp minute", row) for row in sources.minutes)
    yield from (_line("fan minute", row) for row in sources.fan_minutes)


def _line(what: str, row: HistoryRow) -> str:
    figures: tuple[object, ...] = (
        row.start_utc_s,
        row.last,
        row.lowest,
        row.highest,
        row.mean,
        row.good,
        row.uncertain,
        row.bad,
        row.worst.value,
    )
    if isinstance(row, HourRow):
        figures = (*figures, *row.quarters, row.first_good_utc_s, row.last_good_utc_s)
    return f"{what} {' '.join(repr(one) for one in figures)}"


def _entry_lines(sources: Sources) -> Iterator[str]:
    yield f"collector {sources.collector!r}"
    yield from (f"out of service {tuple(one.span)!r} {one.by!r} {one.reason!r}" for one in sources.maintenance)
    yield from (f"entry {tuple(one)!r}" for one in sources.entries)
