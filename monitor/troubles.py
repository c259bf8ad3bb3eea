"""Troubles: what may be wrong at a collector, in the words in which rules, journal and outlets speak of it."""

from enum import StrEnum
from typing import NamedTuple


class Trouble(StrEnum):
    """What may be behind an abnormal DP."""

    BLINDING = "blinding"
    MOISTURE = "moisture"
    TORN_BAG = "torn_bag"
    HEADER_PRESSURE_LOST = "header_pressure_lost"
    VALVE_DEAD = "valve_dead"
    PULSES_DEAD = "pulses_dead"
    OVER_CLEANING = "over_cleaning"
    DUCT_BLOCKED = "duct_blocked"
    FAN_STOPPED = "fan_stopped"
    HOPPER_BRIDGED = "hopper_bridged"
    TAP_PLUGGED = "tap_plugged"
    TAP_HOSE_OFF = "tap_hose_off"
    ZERO_DRIFT = "zero_drift"
    LOOP_OPEN = "loop_open"
    GATEWAY_FROZEN = "gateway_frozen"
    DUST_LOAD_UP = "dust_load_up"
    FLOW_UP = "flow_up"


class Sign(StrEnum):
    """What shows in the curve before a plain band would call: the early warnings."""

    CLEANING_WITHOUT_EFFECT = "cleaning_without_effect"
    CLEANING_TOO_OFTEN = "cleaning_too_often"
    HEADER_NOT_RECOVERING = "header_not_recovering"
    DP_STEPPED_DOWN = "dp_stepped_down"
    SIGNAL_STILL = "signal_still"
    CHANGE_OUT_DUE = "change_out_due"


class Clue(NamedTuple):
    """One piece of evidence.

    Attributes:
        kind: its name in the table of clues.
        value: what was measured; None where the clue is a plain yes.
        usual: what it usually is; None where that is not known or does not apply.
        unit: of both, empty where they have none.
    """

    kind: str
    value: float | None = None
    usual: float | None = None
    unit: str = ""


class Suspicion(NamedTuple):
    """One trouble that may be behind it, and why it is thought so.

    Attributes:
        share: how much of the belief falls on it, 0 to 1; the shares of one list come to 1 at most, and what is
            missing is belief that the evidence does not tell.
        clues: what speaks for it, the strongest first.
        against: what speaks against it.
    """

    trouble: Trouble
    share: float
    clues: tuple[Clue, ...] = ()
    against: tuple[Clue, ...] = ()
