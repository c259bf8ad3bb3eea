"""CSV file: opened in whatever way it was saved: encoding, separator, decimal comma, packed with gzip or not."""

import csv
import gzip
import io
import re
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import BinaryIO, TextIO

from monitor.acquire.traces.trace import CHUNK_ROWS, PROBE_ROWS, TraceError

Row = list[str]

_SEPARATORS = (";", "\t", ",")
_DECIMAL_COMMA = re.compile(r"^\s*[-+]?\d+,\d+\s*$")


class CsvFile:
    """An open CSV file, behind its heading.

    Attributes:
        headings: the cells of the first line.
        probe: the first rows, which ``blocks`` gives out again.
        has_decimal_comma: ``4,32`` in it is 4.32.

    Raises:
        TraceError: it cannot be opened, or is empty.
    """

    def __init__(self, path: Path) -> None:
        self.name = path.name
        self._size, self._raw, self._text = _open(path)
        try:
            self._begin()
        except BaseException:
            self.close()
            raise

    def _begin(self) -> None:
        first = self._text.readline()
        if not first.strip():
            raise TraceError(f"{self.name}: there is nothing in it; the first line must name the columns.")
        separator = max(_SEPARATORS, key=first.count)
        self.headings: Row = next(csv.reader([first], delimiter=separator))
        # Not strict: a quote in the middle of a cell is somebody's inch mark.
        self._reader = csv.reader(self._text, delimiter=separator)
        self.probe = list(self._take(PROBE_ROWS))
        self.has_decimal_comma = separator != "," and _has_decimal_comma(self.probe)

    @property
    def share(self) -> float:
        """How much of the file has been read, 0 to 1."""
        return min(1.0, self._raw.tell() / self._size) if self._size else 1.0

    def blocks(self) -> Iterator[tuple[int, list[Row]]]:
        """The rows in blocks, each with the number of its first line; the file is closed at the end."""
        try:
            yield 2, self.probe
            while True:
                line = self._reader.line_num + 2
                rows = list(self._take(CHUNK_ROWS))
                if not rows:
                    return
                yield line, rows
        finally:
            self.close()

    def _take(self, count: int) -> Sequence[Row]:
        try:
            return list(islice(self._reader, count))
        except csv.Error as error:
            line = self._reader.line_num + 1
            raise TraceError(f"{self.name}, line {line}: this is no CSV text ({error}).") from error
        except (OSError, EOFError) as error:
            raise TraceError(f"{self.name}: reading it failed ({error}).") from error

    def close(self) -> None:
        """Close; may be called twice."""
        self._text.close()
        self._raw.close()


def _open(path: Path) -> tuple[int, BinaryIO, TextIO]:
    try:
        raw = path.open("rb")
        size = path.stat().st_size
    except OSError as error:
        raise TraceError(f"{path} cannot be read ({error.strerror}).") from error
    packed = raw.read(2) == b"\x1f\x8b"
    raw.seek(0)
    plain: BinaryIO = gzip.GzipFile(fileobj=raw) if packed else raw  # type: ignore[assignment]  # read as any file
    try:
        mark = plain.read(3)
        plain.seek(0)
    except (OSError, EOFError) as error:
        raw.close()
        raise TraceError(f"{path} cannot be read ({error}).") from error
    # Spreadsheets save Unicode text as UTF-16. What is no UTF-8 is passed through: only headings can hold it.
    encoding = "utf-16" if mark[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    return size, raw, io.TextIOWrapper(plain, encoding=encoding, errors="replace", newline="")


def _has_decimal_comma(rows: Sequence[Row]) -> bool:
    return any(_DECIMAL_COMMA.match(cell) for row in rows[:100] for cell in row)
