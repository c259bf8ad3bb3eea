"""Early signals: what the service manager may say before there is anybody to follow it.

Left alone, SIGHUP would end the command, and SIGTERM would end it as if it had failed. Python itself takes some
hundredths of a second before the first of our lines runs; nothing can be promised for those.
"""

import os
import signal
from types import FrameType
from typing import Self

_ENDING = (signal.SIGTERM, signal.SIGINT)


class EarlySignals:
    """Holds SIGTERM, SIGINT and SIGHUP from ``begin`` until the event loop takes them over.

    Attributes:
        hung_up: a SIGHUP came; whoever reads the site file sets it back before reading.
    """

    def __init__(self) -> None:
        self.hung_up = False
        self._before: dict[int, signal._HANDLER] = {}

    @classmethod
    def begin(cls) -> Self:
        """Hold them from now on; called on the main thread."""
        early = cls()
        for number in _ENDING:
            early._before[number] = signal.signal(number, early._end)
        early._before[signal.SIGHUP] = signal.signal(signal.SIGHUP, early._hang_up)
        return early

    def restore(self) -> None:
        """Whoever had them before has them again."""
        for number, handler in self._before.items():
            signal.signal(number, handler)

    def _hang_up(self, _number: int, _frame: FrameType | None) -> None:
        self.hung_up = True

    def _end(self, _number: int, _frame: FrameType | None) -> None:
        # No exception: raised in the middle of an import it can be swallowed. Nothing is open yet, or waits to be
        # written, so nothing is lost by leaving at once.
        os._exit(0)
