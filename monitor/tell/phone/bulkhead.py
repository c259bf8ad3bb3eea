"""Bulkhead: keeps what hangs on one side from sinking the other.

Every channel of every person has one, and the outside address has one. What blocks runs in threads of its own,
never in the loop's pool (name look-ups live there), and never longer than its limit as far as anybody waits: a
thread that overruns is left behind and keeps its place until it ends, so that leftovers cannot grow without end.
The threads do not keep the process from ending.
"""

import asyncio
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Generic, TypeVar

_Outcome = TypeVar("_Outcome")


class Overrun(Exception):  # noqa: N818, it is no fault of ours
    """It took longer than it may; its thread is left behind."""


class Full(Exception):  # noqa: N818, it is no fault of ours
    """No place became free in time."""


class Bulkhead(Generic[_Outcome]):
    """Places for a few blocking jobs at once.

    Args:
        name: of the threads.
        places: that many at once, leftovers among them.

    Attributes:
        left_behind: threads that overran and have not ended yet.
    """

    def __init__(self, name: str, places: int) -> None:
        self.left_behind = 0
        self._name = name
        self._places = places
        self._free = asyncio.Semaphore(places)

    async def run(self, job: Callable[[], _Outcome], limit_s: float) -> _Outcome:
        """The outcome of a blocking job.

        Args:
            job: runs in a thread; what it raises is raised here.
            limit_s: real seconds that it may take, and that it may wait for a place before.

        Raises:
            Overrun: it took longer.
            Full: it was not even begun.
        """
        await self._enter(limit_s)
        outcome: asyncio.Future[_Outcome] = asyncio.get_running_loop().create_future()
        self._begin(job, outcome)
        try:
            async with asyncio.timeout(limit_s):
                return await asyncio.shield(outcome)
        except TimeoutError:
            raise Overrun from None
        finally:
            self._leave(outcome)

    async def _enter(self, limit_s: float) -> None:
        if self.left_behind >= self._places:
            raise Full
        try:
            async with asyncio.timeout(limit_s):
                await self._free.acquire()
        except TimeoutError:
            raise Full from None

    def _begin(self, job: Callable[[], _Outcome], outcome: "asyncio.Future[_Outcome]") -> None:
        loop = outcome.get_loop()

        def work() -> None:
            done: _Outcome | Exception
            try:
                done = job()
            except Exception as error:  # whoever waits for it shall know
                done = error
            with suppress(RuntimeError):  # the loop may have closed
                loop.call_soon_threadsafe(_settle, outcome, done)

        threading.Thread(target=work, name=self._name, daemon=True).start()

    def _leave(self, outcome: "asyncio.Future[_Outcome]") -> None:
        if outcome.done():
            self._free.release()
            return
        self.left_behind += 1
        outcome.add_done_callback(self._ended_at_last)

    def _ended_at_last(self, outcome: "asyncio.Future[_Outcome]") -> None:
        outcome.exception()  # nobody waits for it any more
        self.left_behind -= 1
        self._free.release()


def _settle(outcome: "asyncio.Future[_Outcome]", done: _Outcome | Exception) -> None:
    if isinstance(done, Exception):
        outcome.set_exception(done)
    else:
        outcome.set_result(done)
