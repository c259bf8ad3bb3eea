"""Header: the compressed air behind the valves: what a pulse takes, how it comes back."""

import math

from monitor.plant.build import Cleaning
from monitor.plant.mishaps import Forces


class Header:
    """The pulse header of one collector.

    Attributes:
        psig: its pressure now.
        pulse_s: when the last valve opened, -inf before the first.
        pulses: valves that opened since the start.
    """

    __slots__ = ("_cleaning", "psig", "pulse_s", "pulses")

    def __init__(self, cleaning: Cleaning) -> None:
        self._cleaning = cleaning
        self.psig = cleaning.header_psig
        self.pulse_s = -math.inf
        self.pulses = 0

    def open_valve(self, now_s: float) -> float:
        """Open one valve; returns the pressure with which the pulse began."""
        before = self.psig
        self.psig -= self._cleaning.dip_psi * before / self._cleaning.header_psig
        self.pulse_s = now_s
        self.pulses += 1
        return before

    def recover(self, forces: Forces, dt_s: float) -> None:
        """Go on towards what the supply holds, whether that is above or below."""
        supply = forces.supply_psig
        self.psig = supply + (self.psig - supply) * math.exp(-dt_s / forces.recovery_s)
