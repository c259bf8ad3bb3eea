"""Collector: one pulse-jet dust collector, from one instant to the next.

A pure function steps the state. Rows of filters hang side by side between the dusty and the clean side, so all
feel the same DP and share the air by their drags: Q = ΔP·Σ(A/S), S = Se + K2·W. Dust settles where the air
goes. The cleaning controller pulses one row after another from its start set point down to its stop set point;
each pulse takes a share of that row's dust and drains the compressed-air header for some seconds.
"""

from dataclasses import dataclass
from typing import NamedTuple

from monitor.plant import physics
from monitor.plant.scenario import Conditions


@dataclass(frozen=True, slots=True, kw_only=True)
class CollectorSettings:
    """How one collector is built and run.

    Attributes:
        flow_cfm: air with no DP across the cloth; ``droop_cfm_inh2o`` of it is lost for each inch of DP.
        load_gr_ft3: dust in the inlet air; ``load_swing`` is the standard deviation of its wandering (share).
        k2: specific resistance of the dust, inH2O/(ft/min)/(lb/ft²).
        start_inh2o, stop_inh2o: on-demand cleaning; 5 and 4 in. w.c. are common practice, no source.
        pulse_every_s, pulse_s: one row every 10 s, about 100 ms of air: common practice, no source.
        knocked_off: share of a row's dust that one strong pulse takes; the rest settles again.
        header_psig: what the regulator holds; ``dip_psi`` is lost in one pulse.
        recovery_s, leak_s: time constants of the header with its supply, and without.
        weak_psig, strong_psig: below the first a pulse does nothing, from the second on it does all it can.
        blinding_per_h: share by which the residual drag of cleaned cloth rises each hour.
        torn_drag, torn_share: torn bags are that share of the cloth with hardly any drag.
    """

    name: str
    cloth_ft2: float
    rows: int
    flow_cfm: float
    load_gr_ft3: float
    k2: float = 15.0
    droop_cfm_inh2o: float = 0.0
    load_swing: float = 0.0
    start_inh2o: float = 5.0
    stop_inh2o: float = 4.0
    first_dp_inh2o: float = 4.5
    pulse_every_s: float = 10.0
    pulse_s: float = 0.1
    knocked_off: float = 0.35
    header_psig: float = 90.0
    dip_psi: float = 24.0
    recovery_s: float = 3.0
    leak_s: float = 45.0
    weak_psig: float = 30.0
    strong_psig: float = 60.0
    fan_lag_s: float = 8.0
    blinding_per_h: float = 0.0
    torn_drag: float = 0.05
    torn_share: float = 0.03


class CollectorState(NamedTuple):
    """One instant of one collector (a tuple, because a plant day makes 86,400 of them).

    Attributes:
        dust_lb_ft2, residual_drags: one figure a row.
        fan_ratio: 0 standing to 1 at speed.
        pulsed: whether a row was pulsed in the step that led here.
        torn: whether part of the air goes through torn bags at this instant.
        dust_in_lb, dust_off_lb, dust_through_lb: the account since the start: brought by the air, knocked into
            the hopper, lost through torn bags.
    """

    time_s: float
    dust_lb_ft2: tuple[float, ...]
    residual_drags: tuple[float, ...]
    fan_ratio: float
    flow_cfm: float
    dp_inh2o: float
    header_psig: float
    cleaning: bool
    pulsed: bool
    next_row: int
    pulse_due_s: float
    torn: bool
    dust_in_lb: float
    dust_off_lb: float
    dust_through_lb: float


#: A cleaned row: its dust, its residual drag, and the pounds knocked off it.
_Pulsed = tuple[tuple[float, ...], tuple[float, ...], float]


def begin(settings: CollectorSettings) -> CollectorState:
    """Return the collector in service, evenly dusted up to ``first_dp_inh2o``."""
    flow_cfm = settings.flow_cfm - settings.droop_cfm_inh2o * settings.first_dp_inh2o
    residual = physics.residual_drag(settings.header_psig)
    wanted_drag = settings.first_dp_inh2o * settings.cloth_ft2 / flow_cfm
    dust = max(0.0, wanted_drag - residual) / settings.k2
    return CollectorState(
        time_s=0.0,
        dust_lb_ft2=(dust,) * settings.rows,
        residual_drags=(residual,) * settings.rows,
        fan_ratio=1.0,
        flow_cfm=flow_cfm,
        dp_inh2o=physics.drag(residual, settings.k2, dust) * flow_cfm / settings.cloth_ft2,
        header_psig=settings.header_psig,
        cleaning=False,
        pulsed=False,
        next_row=0,
        pulse_due_s=0.0,
        torn=False,
        dust_in_lb=0.0,
        dust_off_lb=0.0,
        dust_through_lb=0.0,
    )


def step(
    settings: CollectorSettings,
    state: CollectorState,
    conditions: Conditions,
    dt_s: float,
    load_deviate: float = 0.0,
) -> CollectorState:
    """Return the state ``dt_s`` later (above 0, a second or less for a fair picture of the pulses).

    ``load_deviate`` says how far the dust load is off its mean just now, in standard deviations.
    """
    time_s = state.time_s + dt_s
    dust, brought_lb, through_lb = _settle(settings, state, dt_s, load_deviate)
    residuals, header_psig, off_lb = state.residual_drags, state.header_psig, 0.0
    cleaning = _keeps_cleaning(settings, state)
    pulsed = cleaning and time_s >= state.pulse_due_s
    if pulsed:
        dust, residuals, off_lb = _pulse(settings, state, dust, time_s)
        header_psig -= settings.dip_psi * header_psig / settings.header_psig
    else:
        header_psig = _refill(settings, header_psig, conditions, dt_s)
    fan_ratio = _spin(settings, state.fan_ratio, conditions, dt_s)
    flow_cfm = fan_ratio * (settings.flow_cfm - settings.droop_cfm_inh2o * state.dp_inh2o)
    return CollectorState(
        time_s,
        dust,
        residuals,
        fan_ratio,
        flow_cfm,
        flow_cfm / _conductance(settings, dust, residuals, conditions),
        header_psig,
        cleaning,
        pulsed,
        (state.next_row + 1) % settings.rows if pulsed else state.next_row,
        time_s + settings.pulse_every_s if pulsed else state.pulse_due_s,
        conditions.bags_torn,
        state.dust_in_lb + brought_lb,
        state.dust_off_lb + off_lb,
        state.dust_through_lb + through_lb,
    )


def dust_on_cloth_lb(settings: CollectorSettings, state: CollectorState) -> float:
    """Return the dust hanging on all rows, pounds."""
    return sum(state.dust_lb_ft2) * settings.cloth_ft2 / settings.rows


def _settle(
    settings: CollectorSettings, state: CollectorState, dt_s: float, deviate: float
) -> tuple[tuple[float, ...], float, float]:
    """Return the dust on each row, and the pounds the air brought and the pounds that went past the cloth."""
    load = max(0.0, 1.0 + settings.load_swing * deviate) * settings.load_gr_ft3 / physics.GRAINS_PER_LB
    load_min = load * dt_s / 60.0
    laid = load_min * state.dp_inh2o  # times 1/S of a row, its velocity: the areal dust it gains
    k2 = settings.k2
    dust = tuple([w + laid / (se + k2 * w) for w, se in zip(state.dust_lb_ft2, state.residual_drags, strict=True)])
    through_lb = laid * _tear(settings) if state.torn else 0.0
    return dust, load_min * state.flow_cfm, through_lb


def _tear(settings: CollectorSettings) -> float:
    """Return how much air one inch of DP drives through torn bags, cfm per inH2O."""
    return settings.torn_share * settings.cloth_ft2 / settings.torn_drag


def _conductance(
    settings: CollectorSettings,
    dust: tuple[float, ...],
    residuals: tuple[float, ...],
    conditions: Conditions,
) -> float:
    """Return how much air one inch of DP drives through cloth and tears, cfm per inH2O."""
    k2 = settings.k2
    through = sum([1.0 / (se + k2 * w) for w, se in zip(dust, residuals, strict=True)])
    cloth = through * settings.cloth_ft2 / settings.rows
    return cloth + _tear(settings) if conditions.bags_torn else cloth


def _keeps_cleaning(settings: CollectorSettings, state: CollectorState) -> bool:
    """Return whether the controller cleans: from the start set point down to the stop set point."""
    if state.cleaning:
        return state.dp_inh2o > settings.stop_inh2o
    return state.dp_inh2o >= settings.start_inh2o


def _pulse(settings: CollectorSettings, state: CollectorState, dust: tuple[float, ...], time_s: float) -> _Pulsed:
    """Return all rows after one of them was pulsed with what pressure the header has."""
    span_psi = settings.strong_psig - settings.weak_psig
    strength = min(1.0, (state.header_psig - settings.weak_psig) / span_psi)
    if strength <= 0.0:
        return dust, state.residual_drags, 0.0
    row = state.next_row
    off = dust[row] * settings.knocked_off * strength
    aged = 1.0 + settings.blinding_per_h * time_s / 3600.0
    residual = physics.residual_drag(state.header_psig) * aged
    return (
        (*dust[:row], dust[row] - off, *dust[row + 1 :]),
        (*state.residual_drags[:row], residual, *state.residual_drags[row + 1 :]),
        off * settings.cloth_ft2 / settings.rows,
    )


def _refill(settings: CollectorSettings, header_psig: float, conditions: Conditions, dt_s: float) -> float:
    """Return the header pressure a step later: towards the regulator's, or leaking away without supply."""
    if conditions.air_supply:
        return header_psig + (settings.header_psig - header_psig) * dt_s / (settings.recovery_s + dt_s)
    return header_psig - header_psig * dt_s / (settings.leak_s + dt_s)


def _spin(settings: CollectorSettings, fan_ratio: float, conditions: Conditions, dt_s: float) -> float:
    """Return the fan's speed a step later; it coasts to a stop and does not turn for ever."""
    target = 1.0 if conditions.fan_commanded else 0.0
    ratio = fan_ratio + (target - fan_ratio) * dt_s / (settings.fan_lag_s + dt_s)
    return target if abs(target - ratio) < 1e-3 else ratio
