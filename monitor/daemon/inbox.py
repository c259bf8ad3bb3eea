"""Inbox: the one door of the core. Register words, ticks and people's commands enter here, in one order.

Bounded: if the judge cannot keep up, the oldest register words go first (newer ones say more), counted; ticks
and link changes stay. Nothing that delivers ever waits.
"""

import asyncio
from collections import deque

from monitor.scan.turn import Input
from monitor.words import UnitScan


class Inbox:
    """A queue that never makes the one who delivers wait."""

    def __init__(self, limit: int = 20_000) -> None:
        self.dropped = 0
        self._items: deque[Input] = deque()
        self._limit = limit
        self._ready = asyncio.Event()

    def put(self, item: Input) -> None:
        """Take one input in; called on the event loop."""
        if len(self._items) >= self._limit:
            self._make_room()
        self._items.append(item)
        self._ready.set()

    async def take(self, most: int = 100) -> list[Input]:
        """Wait for something, then hand out up to ``most`` inputs in their order."""
        await self._ready.wait()
        taken = [self._items.popleft() for _ in range(min(most, len(self._items)))]
        if not self._items:
            self._ready.clear()
        return taken

    def __len__(self) -> int:
        return len(self._items)

    def _make_room(self) -> None:
        for place, item in enumerate(self._items):
            if isinstance(item, UnitScan):
                del self._items[place]
                break
        else:
            self._items.popleft()
        self.dropped += 1
