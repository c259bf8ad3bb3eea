"""Backoff: how long to wait before the next try, longer each time and never in step with others.

Pure but for the dice, which are passed in.
"""

import random


class Backoff:
    """Waits that double from ``first_s`` up to ``most_s``; each is drawn from its upper quarter.

    Jitter only shortens: what is due after one scan period is due by the next scan.
    """

    __slots__ = ("_dice", "_first_s", "_most_s", "_next_s")

    def __init__(self, first_s: float, most_s: float, dice: random.Random) -> None:
        self._first_s = first_s
        self._most_s = max(first_s, most_s)
        self._next_s = first_s
        self._dice = dice

    def wait_s(self) -> float:
        """Return the next wait in seconds, and make the one after it longer."""
        wait_s = self._next_s
        self._next_s = min(2.0 * wait_s, self._most_s)
        return wait_s * self._dice.uniform(0.75, 1.0)

    def reset(self) -> None:
        """Begin anew: the other side has proved itself."""
        self._next_s = self._first_s
