"""Life shape: along which line the residual drag rises over a life, from 0 when new to 1 at the end of its term.

A forecast that only knows powers would be judged too kindly by lives that are all powers; the other two are there
to catch that.
"""

import math
import random
from dataclasses import dataclass
from enum import StrEnum


class Shape(StrEnum):
    """A power of the time; a straight line that bends at one moment; a line with steps (upsets that stay)."""

    POWER = "power"
    KNEE = "knee"
    STEPS = "steps"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One such line.

    Attributes:
        exponent: of a power.
        knee, steeper: where it bends, as a share of the term, and how many times steeper it is from there on.
        steps: when, as a share of the term, and how high, as a share of the whole rise.
    """

    shape: Shape = Shape.POWER
    exponent: float = 1.0
    knee: float = 0.5
    steeper: float = 1.0
    steps: tuple[tuple[float, float], ...] = ()

    def risen(self, share: float) -> float:
        """Return how much of the rise there is after that share of the term (which may be over 1)."""
        match self.shape:
            case Shape.POWER:
                return math.pow(share, self.exponent)
            case Shape.KNEE:
                beyond = self.steeper - 1.0
                return (share + beyond * max(0.0, share - self.knee)) / (1.0 + beyond * (1.0 - self.knee))
            case Shape.STEPS:
                stepped = sum(height for at, height in self.steps if share >= at)
                return share * (1.0 - sum(height for _, height in self.steps)) + stepped


def drawn(shape: Shape, exponent: float, seed: int) -> Line:
    """Draw one of that shape; a power takes the exponent that is given."""
    source = random.Random(f"{seed}/shape")  # noqa: S311 - a simulation, not a secret
    count = source.randint(3, 8)
    return Line(
        shape=shape,
        exponent=exponent,
        knee=source.uniform(0.35, 0.8),
        steeper=math.exp(source.uniform(-1.1, 1.1)),
        steps=tuple((source.uniform(0.05, 0.95), 0.35 / count) for _ in range(count)),
    )
