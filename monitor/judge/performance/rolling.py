"""Rolling: how many in the last so many seconds, in memory that never grows.

Time is cut into steps; a step leaves the count as a whole, so a count may hold up to one step less than it says.
"""


class RollingCount:
    """Counts moments in steps of one length.

    Args:
        step_s: length of one step, seconds.
        steps: how many are remembered.
    """

    def __init__(self, step_s: float, steps: int) -> None:
        self._step_s = step_s
        self._counts = [0] * steps
        # Which step each place holds: a clock that is set, either way, leaves nothing to be swept.
        self._holds = [-1] * steps

    def add(self, utc_s: float) -> None:
        """One more, at this moment (Unix seconds)."""
        step = int(utc_s // self._step_s)
        place = step % len(self._counts)
        if self._holds[place] != step:
            self._holds[place], self._counts[place] = step, 0
        self._counts[place] += 1

    def within(self, length_s: float, now_utc_s: float) -> int:
        """How many lie in the last ``length_s`` seconds, at most what is remembered."""
        newest = int(now_utc_s // self._step_s)
        oldest = newest - round(length_s / self._step_s)
        return sum(count for step, count in zip(self._holds, self._counts, strict=True) if oldest < step <= newest)
