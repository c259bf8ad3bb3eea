"""Answers: what the broker said to our messages, noted by the connection and read by the session."""

import asyncio
from collections import deque
from collections.abc import Iterator


class Answers:
    """Message ids with their reason codes, in the order they came."""

    def __init__(self) -> None:
        self.came = asyncio.Event()
        self._noted: deque[tuple[int, int]] = deque()

    def note(self, message_id: int, code: int) -> None:
        """The broker answered; called from inside the library, so nothing else may happen here."""
        self._noted.append((message_id, code))
        self.came.set()

    def drain(self) -> Iterator[tuple[int, int]]:
        """Take the answers out, oldest first."""
        self.came.clear()
        while self._noted:
            yield self._noted.popleft()

    def has_success(self, message_id: int) -> bool:
        """Whether this message was taken; looks without taking out."""
        return any(noted == message_id and code < 0x80 for noted, code in self._noted)
