"""Build: how a trial's collector is made, cleaned, run and measured. Settings only.

All defaults are an invented collector of ordinary size; where a figure is common practice or has a source, it
says so. Pressures are inches of water, drags inH2O/(ft/min), as in EPA/452/B-02-001 Section 6 Chapter 1.
"""

from dataclasses import dataclass, field
from enum import StrEnum


class Ageing(StrEnum):
    """How the residual drag rises over running time: gain × (t / term) to the power of ``exponent``."""

    LINEAR = "linear"
    ACCELERATING = "accelerating"
    SQUARE_ROOT = "square_root"

    @property
    def exponent(self) -> float:
        """The power of the law."""
        return {Ageing.LINEAR: 1.0, Ageing.ACCELERATING: 1.6, Ageing.SQUARE_ROOT: 0.5}[self]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cloth:
    """The filters.

    Attributes:
        area_ft2, rows: all cloth, hanging in rows that are pulsed one by one.
        k2: specific resistance of the dust, inH2O/(ft/min)/(lb/ft²).
        knocked_off: share of a row's dust that one strong pulse takes off.
        settles_again: share of what came off that is caught by the other rows before it is in the hopper.
        unevenness: standard deviation between rows of how well they clean, share.
        luck: standard deviation from one pulse to the next of how much it takes, share.
        age_d: days of running behind this set when the trial begins.
        ageing, gain, term_d: the residual drag has risen by the share ``gain`` after ``term_d`` days of running.
        seasoning_d, fresh_share: new cloth starts at this share of the seasoned residual drag and comes up to it
            with this time constant; no source.
    """

    area_ft2: float = 4000.0
    rows: int = 8
    k2: float = 15.0
    knocked_off: float = 0.35
    settles_again: float = 0.15
    unevenness: float = 0.1
    luck: float = 0.0
    age_d: float = 60.0
    ageing: Ageing = Ageing.LINEAR
    gain: float = 0.6
    term_d: float = 600.0
    seasoning_d: float = 4.0
    fresh_share: float = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """The fan and the duct; DP across the cloth is ``design_dp_inh2o`` at ``flow_cfm``.

    Attributes:
        shut_off_inh2o: pressure of the fan at no flow; it falls with the square of the flow.
        duct_inh2o: loss of the duct at ``flow_cfm``, rising with the square of the flow.
        dirty_side_share: share of that loss before the filter (the static pressure at the dirty-side tap).
        coast_s: time constant with which the fan comes to speed and coasts to a stop.
        draught_inh2o: what a stack draws with the fan stopped.
    """

    flow_cfm: float = 20_000.0
    design_dp_inh2o: float = 4.5
    shut_off_inh2o: float = 16.0
    duct_inh2o: float = 5.0
    dirty_side_share: float = 0.6
    coast_s: float = 12.0
    draught_inh2o: float = 0.01


class Mode(StrEnum):
    """How the cleaning controller decides.

    ``on_demand``: from the start set point down to the stop set point. ``rounds``: from the start set point,
    whole rounds until the DP is below the stop set point at the end of one. ``timed``: one row after another by
    the clock, with a pause after each round.
    """

    ON_DEMAND = "on_demand"
    ROUNDS = "rounds"
    TIMED = "timed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cleaning:
    """The cleaning controller and the compressed air.

    Attributes:
        start_inh2o, stop_inh2o: 5 and 4 in. w.c. are common practice, no source.
        pulse_every_s, pulse_s: 10 s and about 100 ms are common practice, no source.
        pause_s: timed cleaning: between two rounds; 0 pulses all the time.
        looks_after_s: how long after a pulse the controller believes the DP again.
        clean_down_pulses: pulses after the fan was stopped on purpose.
        shares_taps: whether the controller measures at the transmitter's taps (a plugged tap misleads it too).
        header_psig, dip_psi: what the regulator holds, and what one pulse takes of it.
        recovery_s: time constant of the header between pulses.
        weak_psig, strong_psig: below the first a pulse does nothing, from the second on all it can.
    """

    mode: Mode = Mode.ON_DEMAND
    start_inh2o: float = 5.0
    stop_inh2o: float = 4.0
    pulse_every_s: float = 10.0
    pulse_s: float = 0.1
    pause_s: float = 0.0
    looks_after_s: float = 2.0
    clean_down_pulses: int = 0
    shares_taps: bool = False
    header_psig: float = 90.0
    dip_psi: float = 24.0
    recovery_s: float = 2.5
    weak_psig: float = 30.0
    strong_psig: float = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """When the fan runs, and how much dust it brings.

    Attributes:
        load_gr_ft3: dust in the inlet air, mean of the working hours.
        wander: standard deviation (share) with which it wanders, turning every ``turns_s``.
        shifts: factors of the load, one for each equal part of the day.
        batch_min, batch_share, idle_share: work comes in batches of that length; for ``batch_share`` of each the
            load is full, for the rest ``idle_share`` of it. 0 minutes: no batches.
        days: working days from Monday on, 1 to 7.
        from_h, to_h: working hours of each of them; 0 to 24 runs through.
        swing_degf: day and night swing of the gas temperature; the drag goes with the gas's viscosity.
        damper_wander: standard deviation (share) of the slow wandering of the duct's resistance.
        gates, gate_share, gate_min: branches that are opened and closed, each that often (minutes, mean); the
            duct's resistance goes up by that share for each that is closed.
    """

    load_gr_ft3: float = 3.0
    wander: float = 0.15
    turns_s: float = 300.0
    shifts: tuple[float, ...] = (1.0,)
    batch_min: float = 0.0
    batch_share: float = 0.5
    idle_share: float = 0.1
    days: int = 7
    from_h: float = 0.0
    to_h: float = 24.0
    swing_degf: float = 15.0
    damper_wander: float = 0.02
    gates: int = 0
    gate_share: float = 0.1
    gate_min: float = 45.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """The instruments and the link. No figure here has a source.

    Attributes:
        turbulence: standard deviation of the DP from one second to the next, as a share of it.
        slow_turbulence, slow_s: the same for its part with a memory of that many seconds.
        common_inh2o: static pressure unrest that both taps feel and the transmitter cancels.
        after_pulse: how many times the unrest grows at a pulse; it dies down within seconds.
        spike_inh2o: how far a pulse throws the DP; negative where the tap sees it as a drop.
        sensor_inh2o: white noise of the sensor itself.
        lag_s: damping in the transmitter.
        low_inh2o, high_inh2o: its range; the loop holds at 3.8 and 20.5 mA (NAMUR NE 43).
        step_inh2o: resolution of what arrives.
        drift_inh2o: slow wandering of a healthy zero, standard deviation.
        header, flow, fan, cleaning: which other signals there are.
        lost_share: share of scans in which the DP does not answer.
        glitch_share: share of scans in which a good reading is off by up to 2 inH2O either way.
        jitter_s: how late a scan may be.
        frozen_after_s: the DP is called frozen after repeating exactly for so long; None: not watched.
        others: further collectors on the same link.
    """

    turbulence: float = 0.006
    slow_turbulence: float = 0.006
    slow_s: float = 8.0
    common_inh2o: float = 0.06
    after_pulse: float = 2.5
    spike_inh2o: float = 0.8
    sensor_inh2o: float = 0.002
    lag_s: float = 0.5
    low_inh2o: float = 0.0
    high_inh2o: float = 10.0
    step_inh2o: float = 0.0031
    drift_inh2o: float = 0.005
    header: bool = True
    flow: bool = False
    fan: bool = True
    cleaning: bool = True
    lost_share: float = 0.0
    glitch_share: float = 0.0
    jitter_s: float = 0.05
    frozen_after_s: float | None = None
    others: int = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """One collector, whole."""

    name: str = "DC-101"
    cloth: Cloth = field(default_factory=Cloth)
    fan: Fan = field(default_factory=Fan)
    cleaning: Cleaning = field(default_factory=Cleaning)
    work: Work = field(default_factory=Work)
    signal: Signal = field(default_factory=Signal)
