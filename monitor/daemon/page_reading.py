"""Page reading: history and journal as an open page asks for them, read in a thread of its own.

The writer is not asked: a look at a year must not keep an event from the disk. Each question opens the file and
closes it again, so a file that was set aside as broken is not held.
"""

import asyncio
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TypeVar

from monitor.errors import StoreError
from monitor.remember.history_reading import HistoryReader
from monitor.remember.journal_search import Wanted, last_before, newest
from monitor.remember.tier import Tier as FileTier
from monitor.tell.page.source import Asked, Rows, Tier
from monitor.words import Event, HistoryRow, PointId

_Answer = TypeVar("_Answer")
_FILE_TIER = {Tier.STEPS: FileTier.STEPS, Tier.MINUTES: FileTier.MINUTES, Tier.HOURS: FileTier.HOURS}
#: Questions that may wait; a page that asks more is told to come back.
MOST_WAITING = 20


class PageReading:
    """Reads one store's files from beside its writer.

    Args:
        folder: says where they lie.
    """

    def __init__(self, folder: Callable[[], Path]) -> None:
        self._folder = folder
        self._reader = ThreadPoolExecutor(max_workers=1, thread_name_prefix="page-reading")
        self._waiting = 0

    async def rows(self, points: Sequence[PointId], tier: Tier, since_utc_s: float, until_utc_s: float) -> Rows:
        """Rows of these points that began in [since, until)."""
        return await self._ask(lambda: _rows(self._folder(), points, tier, since_utc_s, until_utc_s))

    async def events(self, asked: Asked) -> list[Event]:
        """The events that are asked for, newest first."""
        wanted = Wanted(
            asked.collector,
            asked.tags,
            asked.before_seq,
            asked.since_utc_s,
            asked.until_utc_s,
            asked.most,
            asked.without,
        )
        return await self._ask(lambda: newest(self._folder(), wanted))

    async def before(self, tags: Sequence[str], utc_s: float) -> list[Event]:
        """Of each tag the last event before that moment."""
        return await self._ask(lambda: last_before(self._folder(), tags, utc_s))

    def close(self) -> None:
        """Answer nobody any more."""
        self._reader.shutdown(wait=False, cancel_futures=True)

    async def _ask(self, look: Callable[[], _Answer]) -> _Answer:
        if self._waiting >= MOST_WAITING:
            raise StoreError("Too many look at the history at once; try again in a few seconds.")
        self._waiting += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self._reader, look)
        finally:
            self._waiting -= 1


def _rows(folder: Path, points: Sequence[PointId], tier: Tier, since_utc_s: float, until_utc_s: float) -> Rows:
    found: dict[PointId, list[HistoryRow]] = {point: [] for point in points}
    with HistoryReader(folder) as reader:
        for point, row in reader.rows_of(_FILE_TIER[tier], points, since_utc_s, until_utc_s):
            found[point].append(row)
    return found
