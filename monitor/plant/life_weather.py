"""Life weather: what lies over the ageing of a set of filters: seasons, weeks, weekends, shutdowns, upsets.

Nothing here lasts: a wet week or a day of poor cleaning goes by, and the filters are what they would have been.
All figures are invented, no source.
"""

import math
import random
from typing import NamedTuple

_DAY_S = 86_400.0
_YEAR_S = 365.25 * _DAY_S


class Now(NamedTuple):
    """One hour of it, each a factor of the usual; ``runs`` is whether the fan does."""

    runs: bool
    drag: float
    flow: float
    load: float


class Weather:
    """Ask in the order of time."""

    def __init__(self, source: random.Random, start_utc_s: float) -> None:
        self._source = source
        self._start_utc_s = start_utc_s
        self._days = source.choice((5, 5, 6, 7, 7))
        self._hours = source.choice((16.0, 24.0, 24.0))
        self._wet_swing, self._flow_swing = source.uniform(0.0, 0.04), source.uniform(0.0, 0.04)
        self._phase = source.random()
        self._drag_sd, self._flow_sd = source.uniform(0.01, 0.03), source.uniform(0.01, 0.04)
        self._load_sd = source.uniform(0.1, 0.3)
        self._drag = self._flow = self._load = 0.0
        self._shut_until_s = self._upset_until_s = 0.0
        self._upset = 1.0

    def at(self, time_s: float, passed_s: float) -> Now:
        """Return the hour that ends then; ``passed_s`` since the one before."""
        self._drag = self._wandered(self._drag, passed_s / (10.0 * _DAY_S))
        self._flow = self._wandered(self._flow, passed_s / (7.0 * _DAY_S))
        self._load = self._wandered(self._load, passed_s / (1.0 * _DAY_S))
        self._chance(time_s, passed_s)
        year = 2.0 * math.pi * (time_s / _YEAR_S + self._phase)
        upset = self._upset if time_s < self._upset_until_s else 1.0
        return Now(
            self._runs(time_s),
            upset * (1.0 + self._wet_swing * math.sin(year) + self._drag_sd * self._drag),
            max(0.6, 1.0 + self._flow_swing * math.cos(year) + self._flow_sd * self._flow),
            max(0.2, 1.0 + self._load_sd * self._load),
        )

    def _wandered(self, deviate: float, share: float) -> float:
        """Return a deviate (standard deviation 1) that forgets itself with that share of its memory gone by."""
        keeps = math.exp(-share)
        return keeps * deviate + math.sqrt(1.0 - keeps * keeps) * self._source.gauss(0.0, 1.0)

    def _chance(self, time_s: float, passed_s: float) -> None:
        """Twice a year a shutdown of 3 to 14 days; five times a year cleaning is poor for 6 to 48 hours."""
        if self._source.random() < 2.0 * passed_s / _YEAR_S:
            self._shut_until_s = time_s + self._source.uniform(3.0, 14.0) * _DAY_S
        if self._source.random() < 5.0 * passed_s / _YEAR_S:
            self._upset_until_s = time_s + self._source.uniform(6.0, 48.0) * 3600.0
            self._upset = self._source.uniform(1.1, 1.5)

    def _runs(self, time_s: float) -> bool:
        # The hour is judged by its middle, so that one that ends at midnight is of the day before.
        days = (self._start_utc_s + time_s - 1800.0) / _DAY_S
        # 1 January 1970 was a Thursday.
        works = (int(days) + 3) % 7 < self._days and (days % 1.0) * 24.0 < self._hours
        return works and time_s >= self._shut_until_s
