"""Worked: one collector in good order, and what each trouble makes of its symptoms, written by hand."""

from monitor.interpret.causes.about import About
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Trouble
from monitor.words import Reason

#: Cleaned on demand between 5 and 4 inH2O, with every companion there is.
SOUND = Symptoms(
    dp_inh2o=4.5,
    dp_usual_inh2o=4.5,
    now_inh2o=4.5,
    fan=True,
    cleaning=False,
    cleaning_s=80.0,
    cleaning_usual_s=80.0,
    stop_reached=True,
    pulled_inh2o=1.0,
    pulled_usual_inh2o=1.0,
    residual_inh2o=4.0,
    residual_usual_inh2o=4.0,
    peak_inh2o=5.0,
    peak_usual_inh2o=5.0,
    residual_slope_inh2o_d=0.001,
    rise_inh2o_min=0.1,
    rise_usual_inh2o_min=0.1,
    cycles_h=6.0,
    cycles_usual_h=6.0,
    step_inh2o=0.0,
    header_psi=90.0,
    header_usual_psi=90.0,
    dip_psi=24.0,
    dip_usual_psi=24.0,
    dips_missing=0.0,
    header_recovers=True,
    flow_cfm=20_000.0,
    flow_usual_cfm=20_000.0,
    noise_inh2o=0.03,
    noise_usual_inh2o=0.03,
    still_s=0.0,
    answers_pulses=True,
    fan_off_dp_inh2o=0.01,
    sawtooth=True,
    others=3,
)

_NO_EFFECT = {
    "dp_inh2o": 6.5,
    "now_inh2o": 6.5,
    "cleaning": True,
    "cleaning_s": 900.0,
    "stop_reached": False,
    "pulled_inh2o": 0.1,
    "answers_pulses": False,
    "sawtooth": False,
}
_LOW = {"dp_inh2o": 1.9, "now_inh2o": 1.9, "residual_inh2o": 1.8, "cycles_h": 0.0}

WORKED: dict[Trouble, tuple[About, Symptoms]] = {
    Trouble.BLINDING: (
        About.HIGH,
        SOUND._replace(
            dp_inh2o=6.5,
            now_inh2o=6.5,
            residual_inh2o=5.2,
            residual_slope_inh2o_d=0.03,
            cleaning=True,
            cleaning_s=900.0,
            stop_reached=False,
            pulled_inh2o=0.5,
            cycles_h=12.0,
            flow_cfm=18_500.0,
        ),
    ),
    Trouble.MOISTURE: (
        About.HIGH,
        SOUND._replace(
            **(_NO_EFFECT | {"pulled_inh2o": 0.35, "answers_pulses": True, "sawtooth": True}),
            residual_inh2o=5.5,
            rise_inh2o_min=0.16,
        ),
    ),
    Trouble.HEADER_PRESSURE_LOST: (
        About.HIGH,
        SOUND._replace(**_NO_EFFECT, header_psi=42.0, header_recovers=False, dip_psi=9.0, dips_missing=0.4),
    ),
    Trouble.VALVE_DEAD: (
        About.WARNING,
        SOUND._replace(dips_missing=0.14, cycles_h=9.0, cleaning_s=110.0),
    ),
    Trouble.PULSES_DEAD: (About.HIGH, SOUND._replace(**_NO_EFFECT, dips_missing=1.0)),
    Trouble.OVER_CLEANING: (
        About.LOW,
        SOUND._replace(
            dp_inh2o=1.9,
            now_inh2o=1.9,
            cleaning=True,
            cleaning_s=3600.0,
            residual_inh2o=1.8,
            cycles_h=30.0,
            stop_reached=True,
        ),
    ),
    Trouble.HOPPER_BRIDGED: (
        About.HIGH,
        SOUND._replace(**_NO_EFFECT, rise_inh2o_min=0.25),
    ),
    Trouble.TORN_BAG: (
        About.LOW,
        SOUND._replace(**_LOW, step_inh2o=-1.2, rise_inh2o_min=0.04, flow_cfm=20_800.0),
    ),
    Trouble.DUCT_BLOCKED: (
        About.LOW,
        SOUND._replace(**_LOW, flow_cfm=9_000.0, rise_inh2o_min=0.02),
    ),
    Trouble.FAN_STOPPED: (
        About.LOW,
        SOUND._replace(now_inh2o=0.01, fan=False, flow_cfm=0.0),
    ),
    Trouble.TAP_PLUGGED: (
        About.WARNING,
        SOUND._replace(noise_inh2o=0.002, still_s=300.0, answers_pulses=False, sawtooth=False),
    ),
    Trouble.TAP_HOSE_OFF: (
        About.LOW,
        SOUND._replace(now_inh2o=0.02, answers_pulses=False, sawtooth=False),
    ),
    Trouble.ZERO_DRIFT: (
        About.LOW,
        SOUND._replace(dp_inh2o=1.9, now_inh2o=1.9, residual_inh2o=1.6, fan_off_dp_inh2o=-1.4),
    ),
    Trouble.LOOP_OPEN: (
        About.BAD_SIGNAL,
        SOUND._replace(reason=Reason.LOOP_FAILED_LOW),
    ),
    Trouble.GATEWAY_FROZEN: (
        About.BAD_SIGNAL,
        SOUND._replace(reason=Reason.FROZEN, still_s=600.0, others_alike=3, noise_inh2o=0.0),
    ),
    Trouble.DUST_LOAD_UP: (
        About.WARNING,
        SOUND._replace(rise_inh2o_min=0.3, cycles_h=14.0),
    ),
    Trouble.FLOW_UP: (
        About.HIGH,
        SOUND._replace(
            dp_inh2o=6.5, now_inh2o=6.5, step_inh2o=1.4, flow_cfm=25_000.0, rise_inh2o_min=0.15, cycles_h=14.0
        ),
    ),
}

#: What stands on instruments of their own; a bare collector has none of them.
COMPANIONS = (
    "header_psi",
    "header_usual_psi",
    "dip_psi",
    "dip_usual_psi",
    "dips_missing",
    "header_recovers",
    "flow_cfm",
    "flow_usual_cfm",
    "fan",
    "fan_off_dp_inh2o",
    "answers_pulses",
)


def bare(symptoms: Symptoms) -> Symptoms:
    """Return what a collector with nothing but its DP shows of the same."""
    return symptoms._replace(**dict.fromkeys(COMPANIONS), others=0, others_alike=0)
