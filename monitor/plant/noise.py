"""Noise: the restlessness of air and dust, the same for the same seed and instant.

Each figure is looked up by step number instead of drawn in turn, so the noise of an instant does not depend on
how often anybody asked before. Two tables of different prime length are added, which makes the pattern repeat
only after some thousand hours of one-second steps.
"""

import random

_LONG = 4099
_SHORT = 3001
_EVEN_OUT = 0.5**0.5


class Noise:
    """Normal deviates (mean 0, standard deviation 1) by step number."""

    __slots__ = ("_long", "_short")

    def __init__(self, seed: int, name: str) -> None:
        # A text seed is hashed by Python the same way on every machine and in every process.
        source = random.Random(f"{seed}/{name}")  # noqa: S311 - a simulation, not a secret
        self._long = [source.gauss(0.0, 1.0) for _ in range(_LONG)]
        self._short = [source.gauss(0.0, 1.0) for _ in range(_SHORT)]

    def at(self, step: int) -> float:
        """Return the deviate of one step, cut at three standard deviations."""
        deviate = (self._long[step % _LONG] + self._short[step % _SHORT]) * _EVEN_OUT
        return -3.0 if deviate < -3.0 else min(deviate, 3.0)

    def drifting(self, step: int, every: int) -> float:
        """Return a deviate that wanders in straight lines from one value to the next over ``every`` steps."""
        whole, part = divmod(step, every)
        here = self.at(whole)
        return here + (self.at(whole + 1) - here) * part / every

    def share(self, step: int) -> float:
        """Return a figure from 0 to 1, evenly spread over the steps."""
        return (self._long[(step * 7) % _LONG] * 1009.0) % 1.0
