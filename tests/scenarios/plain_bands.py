"""Plain bands: what a site has without reading the curve, as the early warnings' rival.

High at the start set point + 1.5 inH2O, low at the stop set point − 2 inH2O, both after 15 s; a DP that repeats
itself exactly for 10 min, and one that is not good for 15 s, are called too. Low and high hold their tongue while
the fan stands and for two minutes after its start. Our site file's defaults, with common set points. Where a
collector is cleaned by the clock they lie as far from its mean DP of the first day as else from the middle of
the set points; where no point says whether the fan runs nobody would leave a low band in, and there is none.
"""

import math
from statistics import fmean

from monitor.interpret.digest import Digest
from monitor.plant.trial import Mode, Trial

DELAY_S = 15.0
FROZEN_S = 600.0
START_UP_S = 120.0


class Bands:
    """The bands of one collector; ``calls`` holds the moments at which one of them came up, with its name."""

    def __init__(self, trial: Trial) -> None:
        cleaning = trial.build.cleaning
        self.high = cleaning.start_inh2o + 1.5
        self.low = cleaning.stop_inh2o - 2.0
        self._timed = cleaning.mode is Mode.TIMED
        if self._timed:  # nobody knows yet where they belong
            self.high, self.low = math.inf, -math.inf
        self._half = (cleaning.start_inh2o - cleaning.stop_inh2o) / 2.0
        self._first: list[float] = []
        self.calls: list[tuple[float, str]] = []
        self._since: dict[str, float] = {}
        self._up: set[str] = set()
        self._fan_s: float | None = 0.0
        self._last: float | None = None

    def see(self, digest: Digest) -> None:
        """Take in one parcel."""
        if digest.fan is False:
            self._fan_s = None
        elif self._fan_s is None:
            self._fan_s = digest.end_s
        runs = self._fan_s is not None and digest.end_s - self._fan_s >= START_UP_S
        good = digest.good > 0
        if self._timed and runs and good and digest.end_s < 86_400.0:
            self._first.append(digest.mean_inh2o)
        elif self._first:
            middle = fmean(self._first)
            self.high, self.low, self._first = middle + self._half + 1.5, middle - self._half - 2.0, []
        self._ask("bad", not good, digest, DELAY_S)
        if good:
            self._ask("high", runs and digest.lowest_inh2o > self.high, digest, DELAY_S)
            self._ask("low", digest.fan is True and runs and digest.highest_inh2o < self.low, digest, DELAY_S)
            same = digest.lowest_inh2o == digest.highest_inh2o == self._last
            self._ask("frozen", same, digest, FROZEN_S)
            self._last = digest.last_inh2o

    def _ask(self, name: str, is_so: bool, digest: Digest, delay_s: float) -> None:
        if not is_so:
            self._since.pop(name, None)
            self._up.discard(name)
            return
        since = self._since.setdefault(name, digest.begin_s)
        if digest.end_s - since >= delay_s and name not in self._up:
            self._up.add(name)
            self.calls.append((digest.end_s, name))
