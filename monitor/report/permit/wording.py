"""Wording: rules, states and causes of the records in plain English."""

from collections.abc import Mapping, Sequence

from monitor.judge.settings import Side
from monitor.report.permit.averages import AverageState
from monitor.report.permit.downtime import Cause, Downtime, Why
from monitor.report.permit.excursions import Excursion
from monitor.report.permit.hour import HourState, Lack, PermitHour, Ran
from monitor.report.permit.printing import length
from monitor.report.permit.settings import PermitSettings, ValidHour
from monitor.report.permit.sources import Entry
from monitor.words import Reason

#: What stands where nobody recorded anything: 40 CFR 64.9(a)(2) asks for the cause, "including unknown".
NO_CAUSE, NO_ACTION = "unknown (none recorded)", "none recorded"

RULES: Mapping[ValidHour, str] = {
    ValidHour.FOUR_QUARTERS: (
        "40 CFR 60.13(h)(2): a good reading in each quarter of the hour in which the unit operates; in an hour of "
        "maintenance two good readings at least 15 min apart (one, where the unit operates in one quarter only)"
    ),
    ValidHour.THREE_QUARTERS: "40 CFR 63.1965: good readings in at least three of the four quarters of the hour",
    ValidHour.TWO_POINTS: "40 CFR 60.1825: at least two good readings in the hour",
}

STATES: Mapping[HourState | AverageState, str] = {
    HourState.VALID: "valid",
    HourState.INVALID: "not valid",
    HourState.NOT_OPERATING: "not operating",
    HourState.NOT_KEPT: "not in the history",
    AverageState.NOT_OVER: "not over yet",
}

LACKS: Mapping[Lack, str] = {
    Lack.NOTHING: "",
    Lack.QUARTER_EMPTY: "no good reading in a quarter of operation",
    Lack.TOO_FEW_QUARTERS: "good readings in fewer than three quarters",
    Lack.TOO_FEW_POINTS: "fewer than two good readings",
    Lack.POINTS_TOO_CLOSE: "good readings less than 15 min apart in an hour of maintenance",
    Lack.NO_POINT_IN_OPERATION: "no good reading while the unit operated",
}

_REASONS: Mapping[Reason, str] = {
    Reason.NONE: "",
    Reason.NOT_YET_READ: "not yet read",
    Reason.NO_CONNECTION: "no connection to the gateway or port",
    Reason.NO_ANSWER: "the device did not answer",
    Reason.EXCEPTION_CODE: "the device answered with an exception code",
    Reason.MALFORMED_REPLY: "the reply could not be read",
    Reason.LOOP_BELOW_MEASURING: "loop current below the measuring range",
    Reason.LOOP_ABOVE_MEASURING: "loop current above the measuring range",
    Reason.LOOP_SATURATED: "loop current at the end of the range",
    Reason.LOOP_FAILED_LOW: "loop current at fault level, low",
    Reason.LOOP_FAILED_HIGH: "loop current at fault level, high",
    Reason.OUT_OF_RANGE: "value outside the transmitter's range",
    Reason.NOT_A_NUMBER: "value is no number",
    Reason.STALE: "reading too old",
    Reason.FROZEN: "reading frozen",
}

_RAN: Mapping[Ran, str] = {Ran.RAN: "ran", Ran.STOPPED: "stood", Ran.NOT_KNOWN: "not known"}


def reason(one: Reason) -> str:
    """Why readings were not good."""
    return _REASONS[one]


def cause(one: Cause) -> str:
    """Why a monitor was down."""
    match one.why:
        case Why.OUT_OF_SERVICE:
            return f"monitor out of service: {one.words}"
        case Why.NOT_RUNNING:
            return "cakewatch was not running"
        case Why.NOT_GOOD:
            return f"readings not good: {_REASONS[one.reason]}"
        case Why.UNKNOWN:
            return "unknown: no readings recorded"


def causes(one: Downtime) -> str:
    """All causes of a downtime; with their lengths where there are several."""
    if len(one.causes) == 1:
        return cause(one.causes[0][0])
    return "; ".join(f"{cause(why)} ({length(seconds)})" for why, seconds in one.causes)


def side(one: Excursion) -> str:
    """Which bound was passed: ``above 6``."""
    return f"{'above' if one.side is Side.ABOVE else 'below'} {one.bound_inh2o:.6g}"


def causes_told(entries: Sequence[Entry]) -> str:
    """The causes that people recorded, each with its name."""
    return "; ".join(f"{one.cause} ({one.by})" if one.by else one.cause for one in entries) or NO_CAUSE


def actions_told(entries: Sequence[Entry]) -> str:
    """The corrective actions that people recorded."""
    return "; ".join(one.action for one in entries if one.action) or NO_ACTION


def ran(hour: PermitHour) -> str:
    """How the unit ran in an hour, in a word or quarter by quarter."""
    found = [_RAN[one] for one in hour.ran]
    return found[0] if len(set(found)) == 1 else ", ".join(found)


def bounds(settings: PermitSettings) -> str:
    """The indicator range: ``2 to 6 inH2O``."""
    low, high = settings.low_inh2o, settings.high_inh2o
    if low is None and high is None:
        return "none given"
    if high is None:
        return f"{low:.6g} inH2O or more"
    return f"{high:.6g} inH2O or less" if low is None else f"{low:.6g} to {high:.6g} inH2O"


def averaging(settings: PermitSettings) -> str:
    """Over how long averages run."""
    return "hourly averages" if settings.average_h == 1 else f"{settings.average_h} h block averages"
