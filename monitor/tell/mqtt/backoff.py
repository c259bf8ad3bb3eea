"""Backoff: how long to wait before the broker is tried again."""

import random

FIRST_S = 1.0
LONGEST_S = 5.0

#: A connection that stood this long was a real one: the next wait is short again.
STOOD_S = 10.0


class Backoff:
    """Waits of 1, 2, 4 and then 5 seconds, each with up to a fifth of jitter, never outside 1 to 5 s.

    The jitter keeps a site's daemons from all coming back to a restarted broker in the same instant.
    """

    def __init__(self, rng: random.Random) -> None:
        self._rng = rng
        self._failures = 0

    def next_s(self, stood_s: float) -> float:
        """Seconds to wait now.

        Args:
            stood_s: how long the connection that just ended had stood; 0 where none came about.
        """
        if stood_s >= STOOD_S:
            self._failures = 0
        base_s = min(LONGEST_S, FIRST_S * 2.0**self._failures)
        self._failures = min(self._failures + 1, 10)
        jittered_s = base_s * self._rng.uniform(0.9, 1.2)
        return min(LONGEST_S, max(FIRST_S, jittered_s))
