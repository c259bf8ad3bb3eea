"""History reading: the whole of a history in the order of time, read by another process while its daemon writes.

As with the journal, each page is a question of its own, so that no long look keeps the daemon's log from being
folded in. Rows that are written while somebody reads behind them are not seen any more.
"""

import math
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from monitor.errors import StoreError
from monitor.remember import database, reading
from monitor.words import PointId, Reason, Role

#: Rows fetched at once: about 0.5 MB.
PAGE_ROWS = 5_000

#: When a step began, whose it is, its last value (None: none), the reason of its worst reading.
Step = tuple[int, PointId, float | None, Reason]

_SPAN = "SELECT min(start_utc_s), max(start_utc_s) FROM history WHERE start_utc_s >= ? AND start_utc_s < ?"
_PAGE = """
SELECT start_utc_s, point, last, good, worst FROM history
WHERE (start_utc_s, point) > (?, ?) AND start_utc_s < ?
ORDER BY start_utc_s, point LIMIT ?
"""
_REASONS = frozenset(reason.value for reason in Reason)


class HistoryReader:
    """A look into a store's history from outside; use it as a context.

    Args:
        folder: the store's, as in ``StoreSettings``.

    Raises:
        StoreError: there is no history, or it cannot be read: a sentence with the way out.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / "history.db"
        self._file = reading.open_to_look(self._path)

    def __enter__(self) -> "HistoryReader":
        return self

    def __exit__(self, *_: object) -> None:
        """Close."""
        database.close_quietly(self._file)

    def span(self, since_utc_s: float = 0.0, until_utc_s: float = math.inf) -> tuple[int, int] | None:
        """When the first and the last step in [since, until) began, Unix seconds; None where there is none.

        Raises:
            StoreError: the file could not be read.
        """
        question = (
            "SELECT min(start_utc_s), max(start_utc_s) FROM history WHERE start_utc_s >= ? AND start_utc_s < ?"
        )
        first, last = self._ask(question, (since_utc_s, min(until_utc_s, 1e18)))[0]
        return None if first is None else (int(first), int(last))

    def pages(self, since_utc_s: float = 0.0, until_utc_s: float = math.inf) -> Iterator[list[Step]]:
        """Every step of every point that began in [since, until), oldest first, in pages.

        Raises:
            StoreError: the file could not be read.
        """
        points = self.points()
        after: tuple[float, float] = (since_utc_s, -1)
        while True:
            rows = self._ask(_PAGE, (*after, min(until_utc_s, 1e18), PAGE_ROWS))
            yield [
                (start, points[point], last if good else None, Reason(worst) if worst in _REASONS else Reason.NONE)
                for start, point, last, good, worst in rows
                if point in points
            ]
            if len(rows) < PAGE_ROWS:
                return
            after = (rows[-1][0], rows[-1][1])

    def points(self) -> dict[int, PointId]:
        """Every point that was ever recorded, by number; a role that only another version knows is left out.

        Raises:
            StoreError: the file could not be read.
        """
        roles = {role.value for role in Role}
        found = self._ask("SELECT id, collector, role FROM points", ())
        return {number: PointId(collector, Role(role)) for number, collector, role in found if role in roles}

    def _ask(self, question: str, values: tuple[object, ...]) -> list[tuple]:  # type: ignore[type-arg]  # SQL's own
        try:
            return self._file.execute(question, values).fetchall()
        except sqlite3.Error as error:
            raise StoreError(reading.in_words(error, self._path)) from error
