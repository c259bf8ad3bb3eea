"""Life: a set of filters from new to worn out, one observation an hour, for forecasts to be judged by.

Years of single pulses would take too long, so cleaning is taken at its balance: what a cleaning leaves behind
follows from the same drag relation (S = Se + K2·W, EPA/452/B-02-001 Section 6 Chapter 1) and from the share of
the dust it takes off. Seasons, weeks, weekends, shutdowns and upsets lie over it; the law itself does not know
them, and the true date is the law's alone.
"""

import math
import random
from dataclasses import dataclass
from enum import StrEnum

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.digest import Digest
from monitor.interpret.settings import FilterSettings
from monitor.plant import physics
from monitor.plant.life_shape import Line, Shape, drawn
from monitor.plant.life_weather import Now, Weather

_DAY_S = 86_400.0
_YEAR_S = 365.25 * _DAY_S
_START_UTC_S = 1_704_067_200.0


class Cleaned(StrEnum):
    """How it is cleaned: whole rounds from a start set point, down to a stop set point, or by the clock."""

    ROUNDS = "rounds"
    TO_STOP = "to_stop"
    TIMED = "timed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """What the filters would do without weather.

    Attributes:
        new_drag: residual drag of seasoned cloth, inH2O/(ft/min).
        gain, term_s, line: it has risen by the share ``gain`` after ``term_s`` of running, along that line.
        fresh_share, seasoning_s: new cloth starts lower by that share and comes up with that time constant.
        velocity_ft_min: at design flow.
        taken: share of the dust that one cleaning takes off.
        start_inh2o, stop_inh2o: of the cleaning, where it goes by the DP.
        dust_drag: drag of the dust between two cleanings by the clock, usual load.
    """

    cleaned: Cleaned
    new_drag: float
    gain: float
    term_s: float
    line: Line
    fresh_share: float
    seasoning_s: float
    velocity_ft_min: float
    taken: float
    start_inh2o: float
    stop_inh2o: float
    dust_drag: float

    def drag(self, run_s: float) -> float:
        """Return the residual drag after so many seconds of running."""
        fresh = self.fresh_share * math.exp(-run_s / self.seasoning_s)
        return self.new_drag * (1.0 + self.gain * self.line.risen(run_s / self.term_s) - fresh)

    def residual_inh2o(self, drag: float, velocity_ft_min: float, load: float) -> float:
        """Return the DP that a cleaning leaves behind."""
        match self.cleaned:
            case Cleaned.ROUNDS:
                return self.taken * drag * velocity_ft_min + (1.0 - self.taken) * self.start_inh2o
            case Cleaned.TIMED:
                left = self.dust_drag * load * (1.0 - self.taken) / self.taken
                return (drag + left) * velocity_ft_min
            case Cleaned.TO_STOP:
                return max(self.stop_inh2o, self.lowest_inh2o(drag, velocity_ft_min))

    def lowest_inh2o(self, drag: float, velocity_ft_min: float) -> float:
        """Return the DP to which cleaning without end comes down (its dust is a twentieth of the drag)."""
        return 1.05 * drag * velocity_ft_min

    def peak_inh2o(self, residual_inh2o: float, velocity_ft_min: float, load: float) -> float:
        """Return the DP prior to cleaning."""
        if self.cleaned is Cleaned.TIMED:
            return residual_inh2o + self.dust_drag * load * velocity_ft_min
        return max(self.start_inh2o, residual_inh2o)


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """What was shown over a life, and when it really was over.

    Attributes:
        digests: one an observation, stops included.
        cycles: the cycle that each of them completed, or None; as many as digests.
        due_utc_s: when the residual DP by the law, at design flow and usual load, reached ``limit_inh2o``.
        due_run_s: the same in seconds of running.
        flow_measured: whether digests and cycles tell the flow.
    """

    seed: int
    law: Law
    digests: tuple[Digest, ...]
    cycles: tuple[Cycle | None, ...]
    limit_inh2o: float
    due_utc_s: float
    due_run_s: float
    start_utc_s: float
    design_flow_cfm: float
    flow_measured: bool

    @property
    def filter_settings(self) -> FilterSettings:
        """What a site file would say of this set."""
        return FilterSettings(
            installed_utc_s=self.start_utc_s,
            change_out_inh2o=self.limit_inh2o,
            design_flow_cfm=self.design_flow_cfm if self.flow_measured else None,
        )


def life(
    seed: int,
    *,
    every_s: float = 3600.0,
    cleaned: Cleaned | None = None,
    flow_measured: bool | None = None,
    shape: Shape = Shape.POWER,
    longest_years: float = 6.0,
) -> Life:
    """Live one life, somewhat past its end.

    Args:
        seed: of law, weather and noise.
        every_s: from one observation to the next, 60 to 86400.
        cleaned: None lets the seed decide: whole rounds three times of five.
        flow_measured: None lets the seed decide: every second time.
        shape: of the line along which the residual drag rises; the same seed has the same weather on each.
        longest_years: it is broken off there; then ``due_utc_s`` is inf if the limit was not reached.
    """
    source = random.Random(f"{seed}/life")  # noqa: S311 - a simulation, not a secret
    chosen = source.choice((Cleaned.ROUNDS, Cleaned.ROUNDS, Cleaned.ROUNDS, Cleaned.TIMED, Cleaned.TO_STOP))
    by_seed = source.random() < 0.5
    measured = by_seed if flow_measured is None else flow_measured
    law, limit_inh2o = _law(chosen if cleaned is None else cleaned, shape, seed, source)
    return _Living(seed, law, limit_inh2o, every_s, measured, source).until(longest_years * _YEAR_S)


def _law(cleaned: Cleaned, shape: Shape, seed: int, source: random.Random) -> tuple[Law, float]:
    """Draw how the filters age, and a limit that they reach after 150 to 600 days of running."""
    new_drag = physics.residual_drag(source.uniform(70.0, 100.0))
    velocity = source.uniform(4.0, 6.5)
    taken = source.uniform(0.65, 0.9)
    clean_inh2o = new_drag * velocity
    # A set is worn out when its cleaned cloth resists 1.6 to 2.6 times what it did.
    gain = source.uniform(0.6, 1.6)
    worn_inh2o = clean_inh2o * (1.0 + gain)
    law = Law(
        cleaned=cleaned,
        new_drag=new_drag,
        gain=gain,
        term_s=source.uniform(150.0, 600.0) * _DAY_S,
        line=drawn(shape, source.uniform(0.5, 1.7), seed),
        fresh_share=source.uniform(0.15, 0.4),
        seasoning_s=source.uniform(2.0, 8.0) * _DAY_S,
        velocity_ft_min=velocity,
        taken=taken,
        start_inh2o=worn_inh2o * source.uniform(1.15, 1.5),
        stop_inh2o=clean_inh2o * (1.0 + 0.5 * gain),
        dust_drag=new_drag * source.uniform(0.15, 0.5),
    )
    return law, law.residual_inh2o(law.drag(law.term_s), velocity, 1.0)


class _Living:
    """One life on its way."""

    def __init__(
        self, seed: int, law: Law, limit_inh2o: float, every_s: float, measured: bool, source: random.Random
    ) -> None:
        self._seed, self._law, self._limit = seed, law, limit_inh2o
        self._every_s, self._measured, self._source = every_s, measured, source
        self._weather = Weather(source, _START_UTC_S)
        self._area_ft2 = source.choice((1200.0, 2400.0, 4000.0, 8000.0))
        self._load_gr_ft3 = source.uniform(0.8, 4.0)
        self._noise_inh2o = source.uniform(0.02, 0.06)
        self._digests: list[Digest] = []
        self._cycles: list[Cycle | None] = []
        self._run_s = 0.0
        self._due = (math.inf, math.inf)

    def until(self, longest_s: float) -> Life:
        """Live on to a tenth past the end."""
        law, time_s = self._law, 0.0
        while time_s < longest_s and self._run_s < 1.1 * law.term_s:
            time_s += self._every_s
            now = self._weather.at(time_s, self._every_s)
            if now.runs:
                self._run_s += self._every_s
                # The law only rises, and the limit is what it comes to at the end of its term.
                if 0.0 <= self._run_s - law.term_s < self._every_s:
                    self._due = (_START_UTC_S + time_s - (self._run_s - law.term_s), law.term_s)
            self._observe(now, time_s)
        return self._told()

    def _told(self) -> Life:
        return Life(
            seed=self._seed,
            law=self._law,
            digests=tuple(self._digests),
            cycles=tuple(self._cycles),
            limit_inh2o=self._limit,
            due_utc_s=self._due[0],
            due_run_s=self._due[1],
            start_utc_s=_START_UTC_S,
            design_flow_cfm=self._law.velocity_ft_min * self._area_ft2,
            flow_measured=self._measured,
        )

    def _observe(self, now: Now, time_s: float) -> None:
        """Take down the hour that ends at that moment, and its last cycle."""
        if not now.runs:
            zero = self._source.gauss(0.0, 0.003)
            flow = 0.0 if self._measured else None
            self._digests.append(self._digest(time_s, (zero, zero, zero), flow, runs=False))
            self._cycles.append(None)
            return
        law = self._law
        drag = law.drag(self._run_s) * now.drag
        # A loaded filter lets a little less through: an eighth of the fan's curve, against seasoned new cloth.
        velocity = law.velocity_ft_min * now.flow * (1.0 - 0.04 * (drag / law.new_drag - 1.0))
        residual = law.residual_inh2o(drag, velocity, now.load)
        peak = law.peak_inh2o(residual, velocity, now.load)
        endless = law.cleaned is Cleaned.TO_STOP and residual > law.stop_inh2o
        flow = None
        if self._measured:
            flow = round(velocity * self._area_ft2 * (1.0 + self._source.gauss(0.0, 0.01)), -1)
        peak = residual if endless else peak
        seen = residual + self._source.gauss(0.0, self._noise_inh2o)
        low, mean = seen - 2.0 * self._noise_inh2o, 0.5 * (seen + peak)
        self._digests.append(self._digest(time_s, (mean, low, peak + 2.0 * self._noise_inh2o), flow, runs=True))
        self._cycles.append(None if endless else self._cycle(time_s, now, seen, peak, velocity, flow))

    def _digest(
        self, time_s: float, mean_low_high: tuple[float, float, float], flow_cfm: float | None, *, runs: bool
    ) -> Digest:
        mean, low, high = mean_low_high
        return Digest(
            begin_s=time_s - self._every_s,
            end_s=time_s,
            end_utc_s=_START_UTC_S + time_s,
            good=int(self._every_s / 10.0),
            mean_inh2o=mean,
            lowest_inh2o=low,
            highest_inh2o=high,
            last_inh2o=mean,
            unrest=2.0 * (0.01 * mean) ** 2,
            flow_cfm=flow_cfm,
            fan=runs,
        )

    def _cycle(
        self, time_s: float, now: Now, residual: float, peak: float, velocity: float, flow_cfm: float | None
    ) -> Cycle | None:
        """Return the last cycle of the hour; None where less than one falls into it."""
        k2, dust_lb_ft3 = 15.0, self._load_gr_ft3 * now.load / physics.GRAINS_PER_LB
        rise = physics.slope_inh2o_min(k2=k2, dust_lb_ft3=dust_lb_ft3, velocity_ft_min=velocity)
        peak += self._source.gauss(0.0, self._noise_inh2o)
        cycle_s = max(120.0, (peak - residual) / rise * 60.0)
        if cycle_s > self._every_s and self._source.random() > self._every_s / cycle_s:
            return None
        end_s = time_s - self._source.random() * min(cycle_s, self._every_s)
        return Cycle(
            begin_s=end_s - 80.0,
            begin_utc_s=_START_UTC_S + end_s - 80.0,
            end_s=end_s,
            end_utc_s=_START_UTC_S + end_s,
            peak_inh2o=peak,
            residual_inh2o=residual,
            cycle_s=cycle_s,
            rise_inh2o_min=rise,
            pulses=8,
            flow_cfm=flow_cfm,
            signalled=True,
        )
