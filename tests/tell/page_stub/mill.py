"""Mill: the invented plant behind the stand-in, as pure functions of time, so that any span has a history.

Every collector fills and cleans in a sawtooth; every seventh or so has a trouble. Nothing here is a measurement.
"""

import math
from dataclasses import dataclass, field

AREAS = ("Saw hall", "Sanding line", "Panel shop", "Loading")
WORKS = (
    "head saw",
    "gang rip",
    "wide belt sander",
    "edge sander",
    "router cell",
    "hogger",
    "silo vent",
    "shavings bin",
)
BEGAN_UTC_S = 1_700_000_000.0


@dataclass
class Collector:
    """One collector; ``trouble`` is what ails it."""

    number: int
    area: str
    trouble: str = ""
    fan: str = "running"
    acknowledged: set[str] = field(default_factory=set)
    shelved: dict[str, dict] = field(default_factory=dict)
    removed: dict[str, dict] = field(default_factory=dict)
    since_utc_s: float = 0.0

    @property
    def name(self) -> str:
        return f"DC-{self.number}"

    @property
    def start(self) -> float:
        return 4.5 + (self.number % 3) * 0.25

    @property
    def stop(self) -> float:
        return 3.0 + (self.number % 4) * 0.2

    @property
    def period_s(self) -> float:
        return 420.0 + 97.0 * (self.number % 11)

    @property
    def setpoint(self) -> float:
        return 6.0

    def dp(self, t: float) -> float | None:
        """DP at a moment, inH2O; None where it cannot be read."""
        if self.is_blind(t):
            return None
        phase = ((t + self.number * 131) % self.period_s) / self.period_s
        low, high = self.stop + self._creep(t), self.start + 0.3 * self._creep(t)
        cleaning = 0.12
        part = (phase - cleaning) / (1 - cleaning)
        tooth = low + (high - low) * (part**0.8 if phase > cleaning else (1 - phase / cleaning))
        wave = 0.03 * math.sin(t / 7.3 + self.number)
        if self.trouble == "high" and t > self.since_utc_s:
            return min(9.6, tooth + 1.2 + 1.4 * (1 - math.exp(-(t - self.since_utc_s) / 900)) + wave)
        if self.trouble == "low" and t > self.since_utc_s:
            return 0.35 + 0.05 * wave
        return tooth + wave

    def is_blind(self, t: float) -> bool:
        if self.trouble == "blind" and t > self.since_utc_s:
            return True
        return self.number % 6 == 0 and (t % 86_400) // 900 == (self.number * 7) % 96

    def is_gap(self, t: float) -> bool:
        return self.number % 5 == 1 and 30_000 < t % 200_000 < 33_000

    def is_cleaning(self, t: float) -> bool:
        return ((t + self.number * 131) % self.period_s) / self.period_s < 0.12

    def residual(self, t: float) -> float:
        return self.stop + self._creep(t)

    def low_high(self, begin: float, step: float) -> tuple[float, float, float] | None:
        """Lowest, highest, last DP of a stretch; None where nothing was read."""
        count = max(4, min(24, int(step / 30)))
        read = [self.dp(begin + step * k / count) for k in range(count)]
        good = [v for v in read if v is not None]
        if not good:
            return None
        if step >= self.period_s:
            mid = begin + step / 2
            good = [*good, self.residual(mid), self.start]
        return min(good), max(good), good[-1]

    def _creep(self, t: float) -> float:
        age_d = ((t - BEGAN_UTC_S) / 86_400 + self.number * 17) % 300
        return 0.9 * age_d / 300


def mill(count: int, now_utc_s: float) -> list[Collector]:
    """A yard of so many collectors, some of them in trouble."""
    troubles = {2: "high", 4: "blind", 6: "waiting", 8: "shelved", 9: "low", 11: "stopped", 14: "early"}
    made = []
    for place in range(count):
        area = AREAS[place * len(AREAS) // count]
        key = place if place < 20 else place % 40 + 100
        one = Collector(101 + place, area, troubles.get(key, "high" if place % 41 == 40 else ""))
        one.since_utc_s = now_utc_s - 1500 - 37 * place
        one.fan = "stopped" if one.trouble == "stopped" else "running"
        made.append(one)
    return made
