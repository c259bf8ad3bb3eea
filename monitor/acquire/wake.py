"""Wake: what ends a worker's rest before its time: a turn that cannot wait, or something to write."""

import asyncio
import contextlib


class Wake:
    """A bell with two ropes.

    Attributes:
        turn_due: somebody rang for a whole turn since the last one began.
    """

    def __init__(self) -> None:
        self.turn_due = False
        self._bell = asyncio.Event()

    def for_turn(self) -> None:
        """Ring for a turn at once."""
        self.turn_due = True
        self._bell.set()

    def for_writing(self) -> None:
        """Ring for a look at what is to be written; the scans keep their pace."""
        self._bell.set()

    def silence(self) -> None:
        """Forget all ringing: it is being seen to."""
        self.turn_due = False
        self._bell.clear()

    async def rest(self, most_s: float) -> None:
        """Wait until somebody rings, or so many real seconds have passed."""
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(most_s):
                await self._bell.wait()
        if not self.turn_due:
            self._bell.clear()
