"""Listener: one open page: what it has still to be sent, never more than a bound.

Each message is one text shared by all pages. A page that does not keep up loses what waits for it, and gets the
whole plant instead as soon as it takes something again: nothing is ever shown that is older than what came before.
"""

import asyncio
from collections import deque

#: Bytes that may wait for one page (our choice: the whole of a large plant, once).
MOST_BYTES = 1_000_000


class Listener:
    """What waits for one page.

    Attributes:
        is_behind: it must get the whole plant next; so it begins.
        closed: nothing more will come.
    """

    __slots__ = ("_bytes", "_waiting", "_wake", "closed", "is_behind")

    def __init__(self) -> None:
        self.is_behind = True
        self.closed = False
        self._waiting: deque[bytes] = deque()
        self._bytes = 0
        self._wake = asyncio.Event()
        self._wake.set()

    def offer(self, message: bytes) -> None:
        """Let it have this after all that waits already."""
        if self.is_behind or self.closed:
            return
        if self._bytes + len(message) > MOST_BYTES:
            self.fall_behind()
            return
        self._waiting.append(message)
        self._bytes += len(message)
        self._wake.set()

    def fall_behind(self) -> None:
        """Forget what waits: the whole plant comes next."""
        self._waiting.clear()
        self._bytes = 0
        self.is_behind = True
        self._wake.set()

    def close(self) -> None:
        """Nothing more comes."""
        self.closed = True
        self._wake.set()

    async def wait(self) -> None:
        """Return when there is something for it, or nothing will come any more."""
        await self._wake.wait()

    def take(self) -> bytes:
        """All that waits, as one piece; empty where nothing does."""
        taken = b"".join(self._waiting)
        self._waiting.clear()
        self._bytes = 0
        if not self.closed:
            self._wake.clear()
        return taken
