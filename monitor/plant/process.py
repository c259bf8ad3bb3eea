"""Process: fan, duct, cloth, header and cleaning controller of one trial, from one stride to the next.

Strides are as long as nothing happens in them: up to ten seconds while cake builds up, from pulse to pulse while
cleaning, a second while the fan comes or goes. Within a stride the DP is a straight line and the header's
recovery is the exact exponential, so samples can be taken at any moment of it. What the instruments make of it
is another file's business, and does not change what happens here.
"""

import math
import random
from collections.abc import Iterator
from typing import NamedTuple

from monitor.plant import physics
from monitor.plant.acting import Acting
from monitor.plant.airway import flow_cfm
from monitor.plant.cloth import ClothRows
from monitor.plant.controller import CleaningController
from monitor.plant.header import Header
from monitor.plant.mishaps import Forces, Way
from monitor.plant.taps import dirty_static_inh2o, lagging, past_hose
from monitor.plant.telling import TrueCycle
from monitor.plant.trial_settings import Trial
from monitor.plant.working import WorkingDay
from monitor.troubles import Trouble

#: How often the slow things (load, ageing, what goes wrong) are looked at, seconds.
_LOOK_S = 30.0
_LONGEST_S = 10.0
_SHORTEST_S = 0.05


class Stride(NamedTuple):
    """A short while in which nothing jumps.

    Attributes:
        dp0_inh2o, dp1_inh2o: true DP at its begin and end.
        header_psig: right at its begin; it goes to ``forces.supply_psig`` with ``forces.recovery_s``.
        pulse_s: when the last valve opened, -inf before the first; ``strength`` is what that pulse had.
        fan: what its contact says, ``turns`` how fast it does, 0 to 1 at its usual speed.
    """

    begin_s: float
    end_s: float
    dp0_inh2o: float
    dp1_inh2o: float
    flow_cfm: float
    header_psig: float
    pulse_s: float
    strength: float
    cleaning: bool
    fan: bool
    turns: float
    pulses: int
    filters: int
    residual_drag: float
    dust_lb_ft2: float
    troubles: tuple[Trouble, ...]
    forces: Forces


class Process:
    """One collector on its way through a trial; ``strides`` moves it on, ``cycles`` grows as it goes."""

    def __init__(self, trial: Trial) -> None:
        build = trial.build
        self._trial = trial
        self._build = build
        # A text seed is hashed by Python the same way on every machine and in every process.
        source = random.Random(f"{trial.seed}/{build.name}/process")  # noqa: S311 - a simulation, not a secret
        self.rows = ClothRows(build, source)
        self._day = WorkingDay(build.work, trial.start_utc_s, source)
        self._header = Header(build.cleaning)
        first_due_s = source.random() * build.cleaning.pulse_every_s
        self._controller = CleaningController(build.cleaning, build.cloth.rows, first_due_s)
        self._acting = Acting(trial)
        self._forces, self._troubles = self._acting.at(0.0)
        self.cycles: list[TrueCycle] = []
        self._time_s = self._look_s = 0.0
        self._planned = self._day.runs(0.0)
        self._fan = self._planned and self._forces.fan
        self._turns = self._speed()
        self._load_lb_ft3 = self._slope = self._strength = 0.0
        self._dp_inh2o = self._seen_inh2o = trial.first_dp_inh2o
        self._flow_cfm = build.fan.flow_cfm
        self._filters = 0
        self._began: tuple[float, float, int] | None = None
        self._look()
        self.rows.dust_evenly(trial.first_dp_inh2o, build.fan.flow_cfm)
        self._solve()

    def strides(self) -> Iterator[Stride]:
        """Move on to the end of the trial."""
        while self._time_s < self._trial.duration_s:
            if self._time_s >= self._look_s:
                self._look()
            self._control()
            yield self._go(max(_SHORTEST_S, self._stride_s()))
        self._end_cycle(finished=False)

    def _look(self) -> None:
        """Take over what acts from now on."""
        now_s = self._time_s
        forces, self._troubles = self._acting.at(now_s)
        self._forces = forces
        while self._filters < self._acting.filters:
            self.rows.change()
            self._filters += 1
        load = self._day.load(now_s) * forces.load * self._build.work.load_gr_ft3
        self._load_lb_ft3 = load / physics.GRAINS_PER_LB
        self._planned = self._day.runs(now_s)
        fan = self._planned and forces.fan
        if self._fan and not fan:
            self._controller.fan_stops(now_s, forces)
        self._fan = fan
        self.rows.look(forces, self._day.viscosity(now_s))
        self._look_s = min(now_s + _LOOK_S, self._acting.next_edge_s(now_s))

    def _control(self) -> None:
        """Let the cleaning controller decide, and pulse where it is time."""
        controller = self._controller
        before = controller.cleaning
        controller.decide(self._time_s, self._seen_inh2o, self._forces, fan=self._fan)
        if controller.cleaning and not before:
            self._began = (self._time_s, self._dp_inh2o, self._header.pulses)
        elif before and not controller.cleaning:
            self._end_cycle(finished=self._fan)
        if controller.is_due(self._time_s):
            self._pulse(controller.call(self._time_s, self._forces))

    def _pulse(self, row: int) -> None:
        """Pulse one row, if its valve opens."""
        if self._forces.pulses_dead or row == self._forces.dead_row:
            return
        psig = self._header.open_valve(self._time_s)
        self._strength = self.rows.pulse(row, psig, self._forces)
        self._solve()
        self._see(0.0)

    def _end_cycle(self, *, finished: bool) -> None:
        if self._began is not None:
            begin_s, peak, pulses = self._began
            fired = self._header.pulses - pulses
            self.cycles.append(TrueCycle(begin_s, self._time_s, peak, self._dp_inh2o, fired, finished))
            self._began = None

    def _stride_s(self) -> float:
        """Return how long nothing will jump."""
        now_s = self._time_s
        looks_s = self._controller.next_look_s(now_s)
        longest = min(self._look_s, self._trial.duration_s, looks_s) - now_s
        if abs(self._turns - self._speed()) > 1e-3:
            return min(longest, 1.0)
        longest = min(longest, _LONGEST_S)
        if self._slope > 0.0 and self._controller.awaits_start:
            to_start_s = (self._forces.start_inh2o - self._seen_inh2o) / self._slope
            longest = min(longest, max(to_start_s, 0.2))
        return longest

    def _speed(self) -> float:
        return self._forces.speed if self._fan else 0.0

    def _go(self, dt_s: float) -> Stride:
        """Move on by one stride in which nothing jumps."""
        begin_s, dp0, flow, header = self._time_s, self._dp_inh2o, self._flow_cfm, self._header.psig
        minutes = dt_s / 60.0
        self.rows.lay(dp0, self._load_lb_ft3, minutes)
        self.rows.lose(self._forces.tear_cfm * math.sqrt(max(0.0, dp0)) * self._load_lb_ft3 * minutes)
        self._time_s = begin_s + dt_s
        speed = self._speed()
        if self._turns != speed:
            self._turns = speed + (self._turns - speed) * math.exp(-dt_s / self._build.fan.coast_s)
        self._header.recover(self._forces, dt_s)
        if self._fan:
            self.rows.ran_s += dt_s
        self._solve()
        self._slope = (self._dp_inh2o - dp0) / dt_s
        self._see(dt_s)
        return self._told(begin_s, dp0, flow, header)

    def _told(self, begin_s: float, dp0_inh2o: float, flow0_cfm: float, header_psig: float) -> Stride:
        """Return the stride that ends now."""
        return Stride(
            begin_s,
            self._time_s,
            dp0_inh2o,
            self._dp_inh2o,
            flow0_cfm,
            header_psig,
            self._header.pulse_s,
            self._strength,
            self._controller.cleaning,
            self._fan or (self._forces.contact_stays and self._planned),
            self._turns,
            self._header.pulses,
            self._filters,
            self.rows.residual_drag(),
            self.rows.mean_dust_lb_ft2(),
            self._troubles,
            self._forces,
        )

    def _solve(self) -> None:
        """Find flow and DP where the fan's curve meets duct and cloth."""
        conductance = self.rows.conductance()
        if self._forces.tear_cfm > 0.0:
            # Through a hole the flow goes with the root of the DP; the DP of a moment ago is near enough.
            conductance += self._forces.tear_cfm / math.sqrt(max(self._dp_inh2o, 0.01))
        duct = self._forces.duct * self._day.damper()
        self._flow_cfm = flow_cfm(self._build.fan, self._turns, duct, conductance)
        self._dp_inh2o = self._flow_cfm / conductance

    def _see(self, dt_s: float) -> None:
        """What the controller believes the DP is: the truth, unless it measures at taps that ail."""
        forces, now = self._forces, self._dp_inh2o
        if not self._build.cleaning.shares_taps or (forces.tap is Way.PLAIN and forces.hose is Way.PLAIN):
            self._seen_inh2o = now
            return
        dirty = dirty_static_inh2o(self._build.fan, forces, self._flow_cfm)
        felt = past_hose(forces.hose, now, dirty)
        self._seen_inh2o = lagging(self._seen_inh2o, felt, dt_s, forces.tap_lag_s)
