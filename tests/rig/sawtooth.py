"""Sawtooth: one collector scripted second by second, with its cleaning controller; owes nothing to our plant.

Cake builds up straight; from the start set point on one row is pulsed every ten seconds until the stop set point
is reached, and each pulse takes a bite out of the header. It moves on when it is looked at.
"""

import random
import time
from typing import NamedTuple

START_INH2O, STOP_INH2O = 5.0, 4.0
PULSE_EVERY_S = 10
HEADER_PSI, BITE_PSI = 90.0, 24.0
WEAK_PSI = 30.0  #: Below that a pulse does nothing.


class Shows(NamedTuple):
    """What the instruments show."""

    dp_inh2o: float
    header_psi: float
    fan: bool
    cleaning: bool


class Sawtooth:
    """The collector through time.

    Attributes:
        cycles: cleanings that ended so far: the truth.
        supply_psi: of the compressed air; set it to take the header pressure away.
        second: how far it has been played.
    """

    def __init__(self, speed: float = 1.0, *, rise_inh2o_min: float = 0.2, seed: int = 5) -> None:
        self.speed = speed
        self.cycles = 0
        self.second = 0
        self.supply_psi = HEADER_PSI
        self.shows = Shows(STOP_INH2O, HEADER_PSI, True, False)
        self._rise = rise_inh2o_min / 60.0
        self._dp = STOP_INH2O
        self._header = HEADER_PSI
        self._cleaning_for_s: int | None = None
        self._dice = random.Random(seed)
        self._zero_s: float | None = None

    def hold(self) -> None:
        """Stand still until somebody looks; from then on go with the clock on the wall, so many times as fast."""
        self._zero_s = None

    def now(self) -> Shows:
        """What it shows at this moment of the wall."""
        if self._zero_s is None:
            self._zero_s = time.monotonic() - self.second / self.speed
        end = int((time.monotonic() - self._zero_s) * self.speed)
        while self.second < end:
            self.step()
        return self.shows

    def step(self) -> Shows:
        """One second further."""
        self.second += 1
        self._dp += self._rise
        self._header += (self.supply_psi - self._header) * 0.35
        if self._cleaning_for_s is None and self._dp >= START_INH2O:
            self._cleaning_for_s = 0
        if self._cleaning_for_s is not None:
            self._clean()
        dp = self._dp + self._dice.gauss(0.0, 0.015)
        self.shows = Shows(dp, self._header, True, self._cleaning_for_s is not None)
        return self.shows

    def _clean(self) -> None:
        if self._cleaning_for_s % PULSE_EVERY_S == 0:
            if self._header > WEAK_PSI:
                self._dp -= 0.2
            self._header -= min(self._header, BITE_PSI)
        self._cleaning_for_s += 1
        if self._dp <= STOP_INH2O:
            self._cleaning_for_s = None
            self.cycles += 1
