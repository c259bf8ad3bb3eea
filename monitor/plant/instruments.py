"""Instruments: what transmitter, loop and link make of what happens in the collector.

Unrest, taps, damping, sensor, loop, gateway, in the order in which the signal passes them.
"""

import math
import random

from monitor.interpret.digest import Sample
from monitor.plant.mishaps import Forces, Way
from monitor.plant.process import Stride
from monitor.plant.taps import dirty_static_inh2o, lagging, past_hose
from monitor.plant.telling import Shown, Truth
from monitor.plant.trial_settings import Trial
from monitor.words import Reason

#: How fast the unrest of a pulse and its spike die down, seconds. Invented, no source.
_UNREST_S = 1.5
_SPIKE_S = 0.3


class Instruments:
    """The instruments of one collector; ask in the order of time."""

    def __init__(self, trial: Trial) -> None:
        self._signal = trial.build.signal
        self._fan = trial.build.fan
        self._start_utc_s = trial.start_utc_s
        # Their own source: what they show changes nothing in the plant, however often it is asked.
        self._source = random.Random(f"{trial.seed}/{trial.build.name}/instruments")  # noqa: S311 - a simulation
        self._gauss = self._source.gauss
        self._at_s = -trial.every_s
        self._slow = self._drift = 0.0
        self._shown_inh2o: float | None = None
        self._damped: float | None = None
        self._tapped: float | None = None
        self._dirty: float | None = None
        self._held: Sample | None = None
        self._frozen: tuple[float, Reason] | None = None
        self._still_since_s = 0.0
        span = self._signal.high_inh2o - self._signal.low_inh2o
        # NAMUR NE 43: measurement information ends at 3.8 and 20.5 mA.
        self._lowest = self._signal.low_inh2o - span * 0.2 / 16.0
        self._highest = self._signal.high_inh2o + span * 0.5 / 16.0

    def jitter_s(self) -> float:
        """Return how late the next scan is."""
        return self._source.random() * self._signal.jitter_s

    def show(self, stride: Stride, at_s: float) -> Shown:
        """Return what they show at a moment of that stride."""
        forces = stride.forces
        share = (at_s - stride.begin_s) / (stride.end_s - stride.begin_s)
        dp = stride.dp0_inh2o + (stride.dp1_inh2o - stride.dp0_inh2o) * share
        value = self._sense(stride, dp, at_s)
        self._at_s = at_s
        truth = Truth(
            stride.troubles,
            stride.cleaning,
            stride.pulses,
            stride.residual_drag,
            dp,
            stride.filters,
            stride.dust_lb_ft2,
        )
        others = self._signal.others
        if forces.link_frozen and self._held is not None:
            sample = self._held._replace(at_s=at_s, utc_s=self._start_utc_s + at_s)
            return self._judged(sample, self._reason(forces, sample.dp_inh2o, at_s), truth, others)
        sample = self._sampled(stride, at_s, value)
        self._held = sample
        return self._judged(sample, self._reason(forces, value, at_s), truth, 0)

    def _judged(self, sample: Sample, reason: Reason, truth: Truth, alike: int) -> Shown:
        if reason is not Reason.NONE:
            sample = sample._replace(dp_inh2o=None)
        return Shown(sample, reason, truth, self._signal.others, alike)

    def _reason(self, forces: Forces, value: float | None, at_s: float) -> Reason:
        """Return why the DP is not good."""
        if value != self._shown_inh2o:
            self._shown_inh2o, self._still_since_s = value, at_s
        if not forces.link_frozen:
            if forces.loop_open:
                return Reason.LOOP_FAILED_LOW
            if self._signal.lost_share > 0.0 and self._source.random() < self._signal.lost_share:
                return Reason.NO_ANSWER
        limit_s = self._signal.frozen_after_s
        return Reason.FROZEN if limit_s is not None and at_s - self._still_since_s >= limit_s else Reason.NONE

    def _sampled(self, stride: Stride, at_s: float, value: float) -> Sample:
        """Return the sample as the link brings it."""
        signal, gauss = self._signal, self._gauss
        header = flow = None
        if signal.header:
            supply = stride.forces.supply_psig
            gone = math.exp((stride.begin_s - at_s) / stride.forces.recovery_s)
            header = round(supply + (stride.header_psig - supply) * gone + 0.2 * gauss(0.0, 1.0), 1)
        if signal.flow:
            flow = max(0.0, round(stride.flow_cfm * (1.0 + 0.012 * gauss(0.0, 1.0)), -1))
        return Sample(
            at_s,
            self._start_utc_s + at_s,
            value,
            header,
            flow,
            stride.fan if signal.fan else None,
            stride.cleaning if signal.cleaning else None,
        )

    def _sense(self, stride: Stride, dp: float, at_s: float) -> float:
        """Return what the transmitter sends for that true DP."""
        signal, gauss, forces = self._signal, self._gauss, stride.forces
        gap_s = at_s - self._at_s
        keeps = math.exp(-gap_s / signal.slow_s)
        self._slow = keeps * self._slow + math.sqrt(1.0 - keeps * keeps) * gauss(0.0, 1.0)
        unrest = signal.turbulence * gauss(0.0, 1.0) + signal.slow_turbulence * self._slow
        since_s = at_s - stride.pulse_s
        spike = 0.0
        if since_s < 8.0:
            unrest *= 1.0 + (signal.after_pulse - 1.0) * math.exp(-since_s / _UNREST_S)
            spike = signal.spike_inh2o * stride.strength * math.exp(-since_s / _SPIKE_S)
        felt = dp * (1.0 + unrest) + spike
        if forces.tap is not Way.PLAIN or forces.hose is not Way.PLAIN:
            felt = self._through_taps(stride, felt, gap_s)
        else:
            self._tapped = felt
            self._dirty = None
        if self._damped is None:
            self._damped = felt
        self._damped += (felt - self._damped) * (1.0 - math.exp(-gap_s / signal.lag_s))
        self._drift = 0.9999**gap_s * self._drift + 0.01414 * math.sqrt(gap_s) * gauss(0.0, 1.0)
        sent = self._damped + signal.sensor_inh2o * gauss(0.0, 1.0)
        sent += signal.drift_inh2o * self._drift + forces.offset_inh2o
        if signal.glitch_share > 0.0 and self._source.random() < signal.glitch_share:
            sent += self._source.uniform(-2.0, 2.0)
        sent = min(max(sent, self._lowest), self._highest)
        return round(sent / signal.step_inh2o) * signal.step_inh2o

    def _through_taps(self, stride: Stride, felt: float, gap_s: float) -> float:
        """Return what reaches the transmitter through plugged lines or past a hose that is off."""
        forces, lag_s = stride.forces, stride.forces.tap_lag_s
        common = self._signal.common_inh2o * self._gauss(0.0, 1.0) * stride.turns
        dirty = common + dirty_static_inh2o(self._fan, forces, stride.flow_cfm)
        if forces.hose is not Way.PLAIN:
            # An open end feels the draughts of the room as well.
            return past_hose(forces.hose, felt, dirty) + 0.005 * self._gauss(0.0, 1.0)
        if forces.tap is Way.ONE_LINE:
            # The open line goes on, and what both felt together is no longer cancelled.
            self._dirty = lagging(dirty if self._dirty is None else self._dirty, dirty, gap_s, lag_s)
            return felt + self._dirty - dirty
        self._tapped = lagging(felt if self._tapped is None else self._tapped, felt, gap_s, lag_s)
        return self._tapped
