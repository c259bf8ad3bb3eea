"""History reading: a history, or rows of some of its points, read by another process while its daemon writes.

As with the journal, each page is a question of its own, so that no long look keeps the daemon's log from being
folded in. Rows that are written while somebody reads behind them are not seen any more.
"""

import math
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TypeVar

from monitor.errors import StoreError
from monitor.remember import database, reading, tier_reading, tiers
from monitor.remember.numbering import Numbered
from monitor.remember.tier import Tier
from monitor.remember.tiers import Reach
from monitor.words import HistoryRow, HourRow, PointId, Reason

#: Rows fetched at once: about 0.5 MB.
PAGE_ROWS = 5_000
#: Starts that are looked at for one page of chosen points.
PAGE_STARTS = 2_000

#: When a step began, whose it is, its last value (None: none), the reason of its worst reading.
Step = tuple[int, PointId, float | None, Reason]

_PAGE = """
SELECT start_utc_s, point, last, good, worst FROM history
WHERE (start_utc_s, point) > (?, ?) AND start_utc_s < ?
ORDER BY start_utc_s, point LIMIT ?
"""
_REASONS = frozenset(reason.value for reason in Reason)
_Answer = TypeVar("_Answer")


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
        # A file that only an earlier version has written has neither minutes nor hours.
        self._has_tiers = self._try(lambda: tiers.is_there(self._file, Tier.HOURS))

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
        found = self._try(lambda: tiers.span(self._file, Tier.STEPS, since_utc_s, until_utc_s))
        return None if found is None else (found.oldest_utc_s, found.newest_utc_s)

    def reach(self) -> Reach:
        """How far back steps, minutes and hours go, of any point; a permit asks for years.

        Raises:
            StoreError: the file could not be read.
        """
        if not self._has_tiers:
            return Reach(steps=self._try(lambda: tiers.span(self._file, Tier.STEPS)))
        return self._try(lambda: tiers.reach(self._file))

    def hours(self, point: PointId, since_utc_s: float = 0.0, until_utc_s: float = math.inf) -> Iterator[HourRow]:
        """The hours of one point that began in [since, until), oldest first.

        An hour without a single reading has no row. The last hour may still be running; its readings are there up
        to the last step written. Hours are those of UTC.

        Raises:
            StoreError: the file could not be read.
        """
        for _, row in self.rows_of(Tier.HOURS, [point], since_utc_s, until_utc_s):
            if isinstance(row, HourRow):
                yield row

    def minutes(
        self, point: PointId, since_utc_s: float = 0.0, until_utc_s: float = math.inf
    ) -> Iterator[HistoryRow]:
        """The minutes of one point that began in [since, until), oldest first.

        Raises:
            StoreError: the file could not be read.
        """
        for _, row in self.rows_of(Tier.MINUTES, [point], since_utc_s, until_utc_s):
            yield row

    def rows(
        self, point: PointId, since_utc_s: float = 0.0, until_utc_s: float = math.inf
    ) -> Iterator[HistoryRow]:
        """The steps of one point that began in [since, until), oldest first.

        Raises:
            StoreError: the file could not be read.
        """
        for _, row in self.rows_of(Tier.STEPS, [point], since_utc_s, until_utc_s):
            yield row

    def rows_of(
        self, tier: Tier, points: Sequence[PointId], since_utc_s: float = 0.0, until_utc_s: float = math.inf
    ) -> Iterator[tuple[PointId, HistoryRow]]:
        """One tier's rows of some points that began in [since, until), in the order of time.

        Raises:
            StoreError: the file could not be read.
        """
        if tier is not Tier.STEPS and not self._has_tiers:
            return
        known = self._numbers()
        wanted = {point: known[point] for point in points if point in known}
        next_utc_s: float | None = since_utc_s
        while next_utc_s is not None:
            page = self._page(tier, wanted, next_utc_s, until_utc_s)
            yield from page.rows
            next_utc_s = page.next_utc_s

    def _page(
        self, tier: Tier, points: dict[PointId, Numbered], since_utc_s: float, until_utc_s: float
    ) -> tier_reading.Page:
        return self._try(
            lambda: tier_reading.page(self._file, tier, points, (since_utc_s, until_utc_s), PAGE_STARTS)
        )

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
        return {known.number: point for point, known in self._numbers().items()}

    def _numbers(self) -> dict[PointId, Numbered]:
        return self._try(lambda: tier_reading.numbers(self._file, has_units=self._has_tiers))

    def _ask(self, question: str, values: tuple[object, ...]) -> list[tuple]:  # type: ignore[type-arg]  # SQL's own
        return self._try(lambda: self._file.execute(question, values).fetchall())

    def _try(self, look: Callable[[], _Answer]) -> _Answer:
        try:
            return look()
        except sqlite3.Error as error:
            raise StoreError(reading.in_words(error, self._path)) from error
