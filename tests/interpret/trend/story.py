"""A set of filters told hour by hour: what the tests of ageing play to it."""

import random
from dataclasses import dataclass, field

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.digest import Digest
from monitor.interpret.settings import FilterSettings
from monitor.interpret.trend.ageing import BEGIN, Ageing, advance

HOUR_S = 3600.0
DAY_S = 86_400.0
START_UTC_S = 1_700_006_400.0


@dataclass
class Story:
    """One collector; ``hours`` and ``days`` let time pass."""

    settings: FilterSettings = field(default_factory=lambda: FilterSettings(change_out_inh2o=5.0))
    state: Ageing = BEGIN
    at_s: float = 0.0
    noise_inh2o: float = 0.03
    peak_inh2o: float = 5.0
    flow_cfm: float | None = None
    has_cycles: bool = True
    tells_fan: bool = True
    source: random.Random = field(default_factory=lambda: random.Random(7))

    @property
    def utc_s(self) -> float:
        return START_UTC_S + self.at_s

    def hours(self, count, residual_inh2o, slope_inh2o_d=0.0):
        """Run so many hours with that residual DP, rising by so much a day; an hour a digest, a cycle each."""
        for hour in range(count):
            level = residual_inh2o + slope_inh2o_d * hour / 24 + self.source.gauss(0.0, self.noise_inh2o)
            self._take(level + 0.6, self._cycle(level) if self.has_cycles else None, runs=True)
        return self

    def days(self, count, residual_inh2o, slope_inh2o_d=0.0):
        return self.hours(24 * count, residual_inh2o, slope_inh2o_d)

    def stop(self, hours):
        """The fan stands still."""
        for _ in range(hours):
            self._take(0.0, None, runs=False)
        return self

    def unseen(self, hours):
        """Nothing is read."""
        self.at_s += hours * HOUR_S
        return self

    def _take(self, mean_inh2o, cycle, runs):
        self.at_s += HOUR_S
        digest = Digest(
            begin_s=self.at_s - HOUR_S,
            end_s=self.at_s,
            end_utc_s=self.utc_s,
            good=720,
            mean_inh2o=mean_inh2o,
            flow_cfm=self.flow_cfm if runs else None,
            fan=runs if self.tells_fan else None,
        )
        self.state = advance(self.settings, self.state, digest, cycle)

    def _cycle(self, residual_inh2o):
        end_s = self.at_s + HOUR_S
        return Cycle(
            end_s - 80.0,
            START_UTC_S + end_s - 80.0,
            end_s,
            START_UTC_S + end_s,
            self.peak_inh2o,
            residual_inh2o,
            flow_cfm=self.flow_cfm,
        )
