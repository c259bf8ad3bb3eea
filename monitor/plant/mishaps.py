"""Mishaps: what goes wrong in a trial, from when to when, and what it does to the plant.

Each trouble is one function that bends the ``Forces``; severity 0 is the mildest that deserves its name, 1 the
worst that is likely. The ranges are invented, no source; they stand in the code beside each figure.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from monitor.plant.build import Build
from monitor.troubles import Trouble


class Way(StrEnum):
    """Troubles that come in several ways; the others are ``plain``.

    Plugged taps: ``slow``, ``frozen``, ``one_line``. Hose off: ``dirty_side``, ``clean_side``, ``both_sides``.
    Header: ``weak_supply`` (else the supply fails). Over-cleaning: ``fast_timer`` (else low set points). Loop:
    ``intermittent``. Fan: ``belt`` (its contact goes on saying that it runs). Zero: ``upward``, ``downward``.
    """

    PLAIN = "plain"
    SLOW = "slow"
    FROZEN = "frozen"
    ONE_LINE = "one_line"
    DIRTY_SIDE = "dirty_side"
    CLEAN_SIDE = "clean_side"
    BOTH_SIDES = "both_sides"
    WEAK_SUPPLY = "weak_supply"
    FAST_TIMER = "fast_timer"
    INTERMITTENT = "intermittent"
    BELT = "belt"
    UPWARD = "upward"
    DOWNWARD = "downward"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mishap:
    """One trouble, hours since the start of the trial from and to.

    Attributes:
        severity: 0 the mildest, 1 the worst.
        ramp_h: how long it takes to come on in full, where it comes slowly.
        row: of a dead valve.
        recovers: a moisture upset dries out in its last third; else it stays until its end.
    """

    trouble: Trouble
    from_h: float
    to_h: float = math.inf
    severity: float = 0.5
    ramp_h: float = 1.0
    way: Way = Way.PLAIN
    row: int = 0
    recovers: bool = True

    def holds(self, time_h: float) -> bool:
        """Whether it is there at that hour."""
        return self.from_h <= time_h < self.to_h

    def grown(self, time_h: float) -> float:
        """How far it has come on, 0 to 1."""
        return min(1.0, (time_h - self.from_h) / self.ramp_h) if self.ramp_h > 0.0 else 1.0

    def within(self, mild: float, worst: float) -> float:
        """The figure between the mild and the worst one that fits the severity."""
        return mild + (worst - mild) * self.severity


@dataclass(slots=True, kw_only=True)
class Forces:
    """What acts on the plant just now, normal unless said otherwise (one for each look, changed in place)."""

    start_inh2o: float
    stop_inh2o: float
    pulse_every_s: float
    supply_psig: float
    recovery_s: float
    duct: float = 1.0
    speed: float = 1.0
    fan: bool = True
    contact_stays: bool = False
    load: float = 1.0
    k2: float = 1.0
    residual: float = 1.0
    knocked_off: float = 1.0
    settles_again: float = 0.0
    area: float = 1.0
    tear_cfm: float = 0.0
    dead_row: int = -1
    pulses_dead: bool = False
    never_stops: bool = False
    tap_lag_s: float = 0.0
    tap: Way = Way.PLAIN
    hose: Way = Way.PLAIN
    offset_inh2o: float = 0.0
    loop_open: bool = False
    link_frozen: bool = False


def usual(build: Build) -> Forces:
    """What acts on a plant in good order."""
    cleaning = build.cleaning
    return Forces(
        start_inh2o=cleaning.start_inh2o,
        stop_inh2o=cleaning.stop_inh2o,
        pulse_every_s=cleaning.pulse_every_s,
        supply_psig=cleaning.header_psig,
        recovery_s=cleaning.recovery_s,
    )


def bend(forces: Forces, mishap: Mishap, build: Build, time_h: float) -> None:
    """Let one trouble act, if it is there at that hour."""
    if mishap.holds(time_h):
        _ACTS[mishap.trouble](forces, mishap, build, time_h)


def _blinding(forces: Forces, mishap: Mishap, _: Build, time_h: float) -> None:
    # Dust in the depth of the cloth: 1.8 to 3.5 times the residual drag when it has come on.
    grown = mishap.grown(time_h)
    forces.residual *= 1.0 + mishap.within(0.8, 2.5) * grown
    forces.knocked_off *= 1.0 - mishap.within(0.1, 0.3) * grown


def _moisture(forces: Forces, mishap: Mishap, _: Build, time_h: float) -> None:
    # Wet cake: denser by half to twice, sticks to the cloth, and the cloth itself resists more.
    wet = mishap.grown(time_h)
    if mishap.recovers and math.isfinite(mishap.to_h):
        third_h = (mishap.to_h - mishap.from_h) / 3.0
        wet *= min(1.0, (mishap.to_h - time_h) / third_h)
    forces.k2 *= 1.0 + mishap.within(0.5, 1.5) * wet
    forces.residual *= 1.0 + mishap.within(0.4, 1.2) * wet
    forces.knocked_off *= 1.0 - mishap.within(0.65, 0.92) * wet


def _torn_bag(forces: Forces, mishap: Mishap, build: Build, _: float) -> None:
    # The hole takes 6 to 30 % of the air at design DP; its flow goes with the root of the DP.
    forces.tear_cfm += mishap.within(0.06, 0.30) * build.fan.flow_cfm / math.sqrt(build.fan.design_dp_inh2o)


def _header_lost(forces: Forces, mishap: Mishap, build: Build, _: float) -> None:
    if mishap.way is Way.WEAK_SUPPLY:
        # The compressor keeps up with the leaks but not with the pulses: 12 to 40 times slower.
        forces.recovery_s *= mishap.within(12.0, 40.0)
        forces.supply_psig *= mishap.within(0.95, 0.7)
    else:
        forces.recovery_s = mishap.within(600.0, 60.0)
        forces.supply_psig = build.cleaning.header_psig * mishap.within(0.42, 0.0)


def _valve_dead(forces: Forces, mishap: Mishap, build: Build, _: float) -> None:
    forces.dead_row = mishap.row % build.cloth.rows


def _pulses_dead(forces: Forces, _: Mishap, __: Build, ___: float) -> None:
    forces.pulses_dead = True


def _over_cleaning(forces: Forces, mishap: Mishap, _: Build, __: float) -> None:
    if mishap.way is Way.FAST_TIMER:
        forces.never_stops = True
        forces.pulse_every_s *= mishap.within(0.8, 0.4)
    else:
        share = mishap.within(0.5, 0.25)
        forces.start_inh2o *= share
        forces.stop_inh2o *= share * 0.7


def _duct_blocked(forces: Forces, mishap: Mishap, build: Build, time_h: float) -> None:
    # The flow that is left: 70 to 30 % of the design; the duct's resistance follows from the fan curve.
    share = 1.0 - (1.0 - mishap.within(0.70, 0.30)) * mishap.grown(time_h)
    fan = build.fan
    droop = fan.shut_off_inh2o - fan.design_dp_inh2o - fan.duct_inh2o
    left = fan.shut_off_inh2o - droop * share**2 - fan.design_dp_inh2o * share
    forces.duct *= left / share**2 / fan.duct_inh2o


def _fan_stopped(forces: Forces, mishap: Mishap, _: Build, __: float) -> None:
    forces.fan = False
    forces.contact_stays = mishap.way is Way.BELT


def _hopper_bridged(forces: Forces, mishap: Mishap, _: Build, time_h: float) -> None:
    # The hopper fills into the bags: what comes off settles again, dust is whirled up, the lower ends are lost.
    grown = mishap.grown(time_h)
    forces.settles_again = mishap.within(0.6, 0.95) * grown
    forces.load *= 1.0 + mishap.within(0.5, 2.0) * grown
    forces.area *= 1.0 - mishap.within(0.1, 0.4) * grown


def _tap_plugged(forces: Forces, mishap: Mishap, _: Build, time_h: float) -> None:
    forces.tap = mishap.way
    if mishap.way is Way.FROZEN:
        forces.tap_lag_s = math.inf
    else:
        # From a second to 2 to 24 hours, growing by the same share in every hour.
        worst_s = 7200.0 * mishap.within(1.0, 12.0)
        forces.tap_lag_s = worst_s ** mishap.grown(time_h)


def _hose_off(forces: Forces, mishap: Mishap, _: Build, __: float) -> None:
    forces.hose = Way.BOTH_SIDES if mishap.way is Way.PLAIN else mishap.way


def _zero_drift(forces: Forces, mishap: Mishap, _: Build, time_h: float) -> None:
    # By 0.5 to 2 inH2O.
    sign = -1.0 if mishap.way is Way.DOWNWARD else 1.0
    forces.offset_inh2o += sign * mishap.within(0.5, 2.0) * mishap.grown(time_h)


def _loop_open(forces: Forces, mishap: Mishap, _: Build, time_h: float) -> None:
    # An intermittent wire is open in two minutes of five.
    open_now = mishap.way is not Way.INTERMITTENT or (time_h * 60.0) % 5.0 < 2.0
    forces.loop_open = forces.loop_open or open_now


def _link_frozen(forces: Forces, _: Mishap, __: Build, ___: float) -> None:
    forces.link_frozen = True


def _load_up(forces: Forces, mishap: Mishap, _: Build, time_h: float) -> None:
    forces.load *= 1.0 + mishap.within(1.0, 3.0) * mishap.grown(time_h)


def _flow_up(forces: Forces, mishap: Mishap, _: Build, time_h: float) -> None:
    forces.speed *= 1.0 + mishap.within(0.15, 0.4) * mishap.grown(time_h)


_ACTS: Mapping[Trouble, Callable[[Forces, Mishap, Build, float], None]] = {
    Trouble.BLINDING: _blinding,
    Trouble.MOISTURE: _moisture,
    Trouble.TORN_BAG: _torn_bag,
    Trouble.HEADER_PRESSURE_LOST: _header_lost,
    Trouble.VALVE_DEAD: _valve_dead,
    Trouble.PULSES_DEAD: _pulses_dead,
    Trouble.OVER_CLEANING: _over_cleaning,
    Trouble.DUCT_BLOCKED: _duct_blocked,
    Trouble.FAN_STOPPED: _fan_stopped,
    Trouble.HOPPER_BRIDGED: _hopper_bridged,
    Trouble.TAP_PLUGGED: _tap_plugged,
    Trouble.TAP_HOSE_OFF: _hose_off,
    Trouble.ZERO_DRIFT: _zero_drift,
    Trouble.LOOP_OPEN: _loop_open,
    Trouble.GATEWAY_FROZEN: _link_frozen,
    Trouble.DUST_LOAD_UP: _load_up,
    Trouble.FLOW_UP: _flow_up,
}
