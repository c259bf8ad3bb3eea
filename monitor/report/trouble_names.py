"""Trouble names: what each trouble is called, live and in a rehearsal."""

from collections.abc import Mapping

from monitor.troubles import Trouble

NAMES: Mapping[Trouble, str] = {
    Trouble.BLINDING: "filters blinding with age",
    Trouble.MOISTURE: "moist or sticky cake on the filters",
    Trouble.TORN_BAG: "torn or missing filter",
    Trouble.HEADER_PRESSURE_LOST: "header pressure lost",
    Trouble.VALVE_DEAD: "a cleaning valve dead",
    Trouble.PULSES_DEAD: "no cleaning pulses",
    Trouble.OVER_CLEANING: "cleaned too much",
    Trouble.DUCT_BLOCKED: "duct blocked or damper shut",
    Trouble.FAN_STOPPED: "fan stopped",
    Trouble.HOPPER_BRIDGED: "hopper full or bridged",
    Trouble.TAP_PLUGGED: "DP tap or tube plugged",
    Trouble.TAP_HOSE_OFF: "DP tube off or open",
    Trouble.ZERO_DRIFT: "transmitter zero drifted",
    Trouble.LOOP_OPEN: "signal wire or loop open",
    Trouble.GATEWAY_FROZEN: "gateway silent or repeating old values",
    Trouble.DUST_LOAD_UP: "more dust than usual, filters not to blame",
    Trouble.FLOW_UP: "more air than usual, filters not to blame",
}
