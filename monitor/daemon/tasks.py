"""Tasks: what runs side by side in the daemon, started by name and ended in order.

An exception that reaches here is our own fault: it is logged once with its traceback and ends the daemon with
an exit code, so that the service manager starts a whole one anew instead of a lame one limping on.
"""

import asyncio
import contextlib
import logging
from collections.abc import Callable, Coroutine

log = logging.getLogger(__name__)


class Tasks:
    """Named tasks; one that fails calls ``on_failure``."""

    def __init__(self, on_failure: Callable[[BaseException], None]) -> None:
        self._tasks: dict[str, asyncio.Task[None]] = {}
        self._on_failure = on_failure

    def start(self, name: str, work: Coroutine[None, None, None]) -> None:
        """Run this under that name, which must be free."""
        task = asyncio.create_task(work, name=name)
        self._tasks[name] = task
        task.add_done_callback(self._ended)

    async def end(self, *names: str, within_s: float = 1.5) -> None:
        """Cancel these (all, where none is named) and wait for them, bounded in real seconds."""
        tasks = [task for name in names or tuple(self._tasks) if (task := self._tasks.pop(name, None))]
        for task in tasks:
            task.cancel()
        if not tasks:
            return
        _, still = await asyncio.wait(tasks, timeout=within_s)
        for task in still:
            log.error("task did not end in time task=%s limit_s=%.1f", task.get_name(), within_s)

    def _ended(self, task: asyncio.Task[None]) -> None:
        with contextlib.suppress(asyncio.CancelledError):
            if (error := task.exception()) is not None:
                log.error("task failed task=%s", task.get_name(), exc_info=error)
                self._on_failure(error)
