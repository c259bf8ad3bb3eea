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
from monitor.plant.build import Mode
from monitor.plant.cloth import ClothRows
from monitor.plant.mishaps import Forces, Way, bend, usual
from monitor.plant.taps import dirty_static_inh2o, lagging, past_hose
from monitor.plant.telling import TrueCycle
from monitor.plant.trial_settings import Change, Trial
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
        self._trial = trial
        self._build = trial.build
        # A text seed is hashed by Python the same way on every machine and in every process.
        source = random.Random(f"{trial.seed}/{trial.build.name}/process")  # noqa: S311 - a simulation
        self.rows = ClothRows(trial.build, source)
        self._day = WorkingDay(trial.build.work, trial.start_utc_s, source)
        self._forces = usual(trial.build)
        self.cycles: list[TrueCycle] = []
        self._time_s = self._look_s = 0.0
        self._troubles: tuple[Trouble, ...] = ()
        self._fan = self._planned = True
        self._turns = 1.0
        self._load_lb_ft3 = 0.0
        self._dp_inh2o = self._seen_inh2o = trial.first_dp_inh2o
        self._slope = 0.0
        self._flow_cfm = trial.build.fan.flow_cfm
        self._header_psig = trial.build.cleaning.header_psig
        self._pulse_s, self._strength = -math.inf, 0.0
        self._pulses = self._filters = self._next_row = 0
        self._cleaning = False
        # Timed cleaning does not start on a round figure, or slow scans would always meet the same moment.
        self._due_s = source.random() * trial.build.cleaning.pulse_every_s
        self._down_left = 0
        self._began: tuple[float, float, int] | None = None
        self._changes = sorted(trial.changes, key=lambda one: one.at_h)
        self._set_points: tuple[float, float] | None = None
        self._look()
        self.rows.dust_evenly(trial.first_dp_inh2o, trial.build.fan.flow_cfm)
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
        time_h = self._time_s / 3600.0
        while self._changes and self._changes[0].at_h <= time_h:
            self._change(self._changes.pop(0))
        forces = usual(self._build)
        if self._set_points is not None:
            forces.start_inh2o, forces.stop_inh2o = self._set_points
        for mishap in self._trial.mishaps:
            bend(forces, mishap, self._build, time_h)
        self._troubles = tuple(one.trouble for one in self._trial.mishaps if one.holds(time_h))
        self._forces = forces
        day = self._day
        load = day.load(self._time_s) * forces.load * self._build.work.load_gr_ft3
        self._load_lb_ft3 = load / physics.GRAINS_PER_LB
        self._planned = day.runs(self._time_s)
        self._switch(self._planned and forces.fan)
        self.rows.look(forces, day.viscosity(self._time_s))
        self._look_s = min(self._time_s + _LOOK_S, self._next_edge_s())

    def _next_edge_s(self) -> float:
        """Return the next moment at which a trouble comes or goes, or somebody changes something."""
        edges = [edge * 3600.0 for one in self._trial.mishaps for edge in (one.from_h, one.to_h)]
        edges += [one.at_h * 3600.0 for one in self._changes]
        return min((edge for edge in edges if edge > self._time_s), default=math.inf)

    def _change(self, change: Change) -> None:
        """Carry out what people do: a new set of filters, other set points."""
        if change.new_filters:
            self.rows.change()
            self._filters += 1
        if change.start_inh2o is not None and change.stop_inh2o is not None:
            self._set_points = (change.start_inh2o, change.stop_inh2o)

    def _switch(self, fan: bool) -> None:
        """Start or stop the fan; a fan that is stopped on purpose may be followed by cleaning."""
        if self._fan and not fan:
            self._down_left = self._build.cleaning.clean_down_pulses
            self._due_s = self._time_s + self._forces.pulse_every_s
        self._fan = fan

    def _control(self) -> None:
        """Let the cleaning controller decide, and pulse where it is time."""
        wanted = self._wants_cleaning()
        if wanted and not self._cleaning:
            self._cleaning = True
            self._due_s = max(self._due_s, self._time_s)
            self._began = (self._time_s, self._dp_inh2o, self._pulses)
        elif self._cleaning and not wanted:
            self._end_cycle(finished=self._fan)
            self._cleaning = False
        if (self._cleaning or self._down_left > 0) and self._time_s >= self._due_s:
            self._pulse()

    def _wants_cleaning(self) -> bool:
        cleaning, forces = self._build.cleaning, self._forces
        if not self._fan:
            return False
        if forces.never_stops:
            return True
        if cleaning.mode is Mode.TIMED:
            return self._timed()
        if not self._cleaning:
            return self._seen_inh2o >= forces.start_inh2o
        if self._time_s < self._pulse_due_before_s() + cleaning.looks_after_s:
            return True
        if cleaning.mode is Mode.ROUNDS and self._next_row != 0:
            return True
        return self._seen_inh2o > forces.stop_inh2o

    def _timed(self) -> bool:
        """A round is over with its last row; the next begins when its first pulse is due."""
        if self._build.cleaning.pause_s <= 0.0:
            return True
        if self._cleaning:
            return not (self._next_row == 0 and self._due_s - self._time_s > self._forces.pulse_every_s)
        return self._time_s >= self._due_s

    def _pulse_due_before_s(self) -> float:
        """Return when the last row was called (whether its valve opened or not)."""
        return self._due_s - self._forces.pulse_every_s

    def _pulse(self) -> None:
        """Call one row; the controller goes on whether its valve opens or not."""
        row, forces = self._next_row, self._forces
        self._next_row = (row + 1) % self._build.cloth.rows
        self._due_s = self._time_s + forces.pulse_every_s
        if self._next_row == 0 and self._build.cleaning.mode is Mode.TIMED and not forces.never_stops:
            self._due_s += self._build.cleaning.pause_s
        self._down_left = max(0, self._down_left - 1)
        if forces.pulses_dead or row == forces.dead_row:
            return
        self._strength = self.rows.pulse(row, self._header_psig, forces)
        cleaning = self._build.cleaning
        self._header_psig -= cleaning.dip_psi * self._header_psig / cleaning.header_psig
        self._pulse_s = self._time_s
        self._pulses += 1
        self._solve()
        self._see(0.0)

    def _end_cycle(self, *, finished: bool) -> None:
        if self._began is not None:
            begin_s, peak, pulses = self._began
            self.cycles.append(
                TrueCycle(begin_s, self._time_s, peak, self._dp_inh2o, self._pulses - pulses, finished)
            )
            self._began = None

    def _stride_s(self) -> float:
        """Return how long nothing will jump."""
        now_s = self._time_s
        longest = min(self._look_s, self._trial.duration_s) - now_s
        if self._cleaning or self._down_left > 0 or self._build.cleaning.mode is Mode.TIMED:
            if self._due_s > now_s:
                longest = min(longest, self._due_s - now_s)
            if self._cleaning:
                # First until the controller believes the DP again, then on to the next pulse.
                believes_s = self._pulse_due_before_s() + self._build.cleaning.looks_after_s
                longest = min(longest, believes_s - now_s) if believes_s > now_s else longest
        if abs(self._turns - self._speed()) > 1e-3:
            return min(longest, 1.0)
        longest = min(longest, _LONGEST_S)
        if not self._cleaning and self._slope > 0.0:
            to_start_s = (self._forces.start_inh2o - self._seen_inh2o) / self._slope
            longest = min(longest, max(to_start_s, 0.2))
        return longest

    def _speed(self) -> float:
        return self._forces.speed if self._fan else 0.0

    def _go(self, dt_s: float) -> Stride:
        """Move on by one stride in which nothing jumps."""
        before, dp0, header = self._time_s, self._dp_inh2o, self._header_psig
        self.rows.lay(dp0, self._load_lb_ft3, dt_s / 60.0)
        self.rows.through_lb += self._torn_lb(dt_s)
        self._time_s = before + dt_s
        speed = self._speed()
        if self._turns != speed:
            self._turns = speed + (self._turns - speed) * math.exp(-dt_s / self._build.fan.coast_s)
        supply = self._forces.supply_psig
        self._header_psig = supply + (header - supply) * math.exp(-dt_s / self._forces.recovery_s)
        if self._fan:
            self.rows.ran_s += dt_s
        flow = self._flow_cfm
        self._solve()
        self._slope = (self._dp_inh2o - dp0) / dt_s
        self._see(dt_s)
        return Stride(
            before,
            self._time_s,
            dp0,
            self._dp_inh2o,
            flow,
            header,
            self._pulse_s,
            self._strength,
            self._cleaning,
            self._fan or (self._forces.contact_stays and self._planned),
            self._turns,
            self._pulses,
            self._filters,
            self.rows.residual_drag(),
            self.rows.mean_dust_lb_ft2(),
            self._troubles,
            self._forces,
        )

    def _torn_lb(self, dt_s: float) -> float:
        """Return what goes through a tear in that time; it is on the account of what came in, too."""
        tear = self._forces.tear_cfm
        if tear <= 0.0:
            return 0.0
        lost = tear * math.sqrt(max(0.0, self._dp_inh2o)) * self._load_lb_ft3 * dt_s / 60.0
        self.rows.dust_in_lb += lost
        return lost

    def _solve(self) -> None:
        """Find flow and DP where the fan's curve meets duct and cloth."""
        fan = self._build.fan
        cloth = self.rows.conductance()
        tear = self._forces.tear_cfm
        conductance = cloth if tear <= 0.0 else cloth + tear / math.sqrt(max(self._dp_inh2o, 0.01))
        droop = fan.shut_off_inh2o - fan.design_dp_inh2o - fan.duct_inh2o
        duct = fan.duct_inh2o * self._forces.duct * self._day.damper()
        square = (droop + duct) / fan.flow_cfm**2
        head = self._turns**2 * fan.shut_off_inh2o + fan.draught_inh2o
        linear = 1.0 / conductance
        # square·Q² + linear·Q = head, in the form that keeps its digits when square is small.
        self._flow_cfm = 2.0 * head / (linear + math.sqrt(linear * linear + 4.0 * square * head))
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
