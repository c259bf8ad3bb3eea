"""Clock: the only place where time enters the house.

Two clocks tick. The scan clock counts seconds while the daemon runs; it never steps, and over a restart it
goes on from the second it last wrote down, so the time in which nobody watched counts for no delay. The wall
clock gives stamps for people; it may be set, and nothing is ever decided by it.
"""

import asyncio
import time

from monitor.words import Instant


class Clock:
    """The real clock, which a demonstration may run faster.

    Args:
        start_s: where the scan clock goes on from (the last second the store remembers), 0 or more.
        speed: scan seconds that pass in one real second; 1 for a real plant.
    """

    def __init__(self, start_s: float = 0.0, speed: float = 1.0) -> None:
        self.speed = speed
        self._start_s = start_s
        self._zero_real_s = time.monotonic()
        self._zero_utc_s = time.time()

    def now(self) -> Instant:
        """This moment. At speed 1 the wall clock is asked each time, so that a set clock shows at once."""
        passed_s = (time.monotonic() - self._zero_real_s) * self.speed
        utc_s = time.time() if self.speed == 1.0 else self._zero_utc_s + passed_s
        return Instant(self._start_s + passed_s, utc_s)

    async def sleep(self, seconds: float) -> None:
        """Sleep that many scan seconds; zero or less yields once."""
        await asyncio.sleep(max(0.0, seconds) / self.speed)


def real_s() -> float:
    """Seconds of a steady clock at real speed, for round-trip times and time limits."""
    return time.perf_counter()
