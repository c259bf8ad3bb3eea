"""Allowance: how many commands may come in at once, and how many in the long run (a token bucket)."""


class Allowance:
    """So many at once, and then so many a second.

    Args:
        burst: how many may come at once, 1 or more.
        per_s: how many a second are allowed in the long run, above 0.
    """

    def __init__(self, burst: int, per_s: float) -> None:
        self._burst = float(burst)
        self._per_s = per_s
        self._left = float(burst)
        self._asked_s: float | None = None

    def take(self, now_s: float) -> bool:
        """Whether one more is allowed now; a moment before the last one counts as the last one."""
        passed_s = 0.0 if self._asked_s is None else max(0.0, now_s - self._asked_s)
        self._asked_s = now_s
        self._left = min(self._burst, self._left + passed_s * self._per_s)
        if self._left < 1.0:
            return False
        self._left -= 1.0
        return True
