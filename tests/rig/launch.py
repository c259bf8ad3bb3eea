"""Launch: the command line, as ``python -m monitor``, with clocks that a test may bend. Run as a script.

    RIG_WALL_FILE   a file that holds seconds by which the wall clock is off, read anew at every look
    RIG_SPEED       scan seconds in one real second
    RIG_FORGET_S    for how many real seconds a late answer is feared on RTU framings (60 in earnest): at speed,
                    a minute of the wall would be hours of the plant

The steady clock is never touched but for the speed, and nothing else of the daemon is changed.
"""

import os
import sys
import time
from pathlib import Path

import monitor.clock


class BentTime:
    """What monitor/clock.py takes from the module ``time``, with a wall clock that steps."""

    monotonic = staticmethod(time.monotonic)
    perf_counter = staticmethod(time.perf_counter)

    def __init__(self, wall_file: Path) -> None:
        self._wall_file = wall_file

    def time(self) -> float:
        return time.time() + float(self._wall_file.read_text())


if "RIG_WALL_FILE" in os.environ:
    monitor.clock.time = BentTime(Path(os.environ["RIG_WALL_FILE"]))

SPEED = float(os.environ.get("RIG_SPEED", "1"))


class FastClock(monitor.clock.Clock):
    """The real clock, at the speed of the test."""

    def __init__(self, start_s: float = 0.0, speed: float = SPEED) -> None:
        super().__init__(start_s, speed)


monitor.clock.Clock = FastClock

import monitor.acquire.step  # noqa: E402 - the clock must be bent before anyone takes it

monitor.acquire.step.FORGET_S = float(os.environ.get("RIG_FORGET_S", monitor.acquire.step.FORGET_S))

from monitor.cli.main import main  # noqa: E402 - likewise

sys.argv[0] = "cakewatch"
main()
