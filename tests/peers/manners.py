"""Manners of a server that takes messages: how it treats the next one, by order or at random."""

import random
import threading
import time
from enum import Enum
from typing import NamedTuple


class Manner(Enum):
    TAKE = "takes it and says so"
    REFUSE = "answers that it cannot (500, 451)"
    HANG = "reads it and never answers"
    DROP = "ends the connection at once"
    TAKE_AND_HANG = "takes it and never says so"
    LOSE_ANSWER = "takes it and resets the connection instead of saying so"


class Arrival(NamedTuple):
    """One message that was taken, whether or not its sender was told."""

    at_s: float
    title: str
    body: str
    manner: Manner


class Manners:
    """How each message is treated.

    Args:
        odds: weight of each manner; without any, everything is taken.
        seed: of the dice.
    """

    def __init__(self, odds: dict[Manner, float] | None = None, seed: int = 1) -> None:
        self.odds = odds or {}
        self.met = dict.fromkeys(Manner, 0)
        self.arrivals: list[Arrival] = []
        self.hang_s = 30.0
        self._dice = random.Random(seed)
        self._lock = threading.Lock()

    def next(self) -> Manner:
        with self._lock:
            odds = self.odds
            manner = self._dice.choices([*odds], [*odds.values()])[0] if odds else Manner.TAKE
            self.met[manner] += 1
            return manner

    def take(self, title: str, body: str, manner: Manner = Manner.TAKE) -> None:
        with self._lock:
            self.arrivals.append(Arrival(time.monotonic(), title, body, manner))

    def always(self, manner: Manner) -> None:
        self.odds = {manner: 1.0}
