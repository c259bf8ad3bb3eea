"""Wording, filters: what shows early in the curve, and what became of a set of filters."""

from collections.abc import Callable, Mapping, Sequence

from monitor.report.trouble_names import NAMES
from monitor.tell.notation import moment
from monitor.tell.wording_causes import CHECKS, LIKELY
from monitor.tell.wording_phrases import amount, because, fact_number, one_line, person
from monitor.troubles import Sign, Suspicion
from monitor.words import Event

#: What shows, in the words of whoever has to act.
SIGN: Mapping[Sign, str] = {
    Sign.CLEANING_WITHOUT_EFFECT: "cleaning runs but does not pull the DP down",
    Sign.CLEANING_TOO_OFTEN: "cleaning comes far more often than usual",
    Sign.HEADER_NOT_RECOVERING: "the pulse header does not come back to its pressure",
    Sign.DP_STEPPED_DOWN: "the DP fell in a step and stays down",
    Sign.SIGNAL_STILL: "the DP signal has become still",
    Sign.CHANGE_OUT_DUE: "the next set of filters is to be ordered now",
}

#: The same once it is over.
_OVER: Mapping[Sign, str] = {
    Sign.CLEANING_WITHOUT_EFFECT: "cleaning pulls the DP down again",
    Sign.CLEANING_TOO_OFTEN: "cleaning comes no more often than usual",
    Sign.HEADER_NOT_RECOVERING: "the pulse header comes back to its pressure",
    Sign.DP_STEPPED_DOWN: "the DP is back where it was, or what it is now is usual",
    Sign.SIGNAL_STILL: "the DP signal moves again",
    Sign.CHANGE_OUT_DUE: "the next set of filters need not be ordered yet",
}

#: What a person can look at first, from outside (common practice, no source).
_CHECK: Mapping[Sign, str] = {
    Sign.CLEANING_WITHOUT_EFFECT: "compressed air, cleaning valves, hopper level, from outside",
    Sign.CLEANING_TOO_OFTEN: "dust load, pulse pressure, moist air, leaking valves",
    Sign.HEADER_NOT_RECOVERING: "air supply, dryer, a valve that hangs open; the header is under pressure",
    Sign.DP_STEPPED_DOWN: "dust at the outlet (torn bag), dampers, loose DP tubes",
    Sign.SIGNAL_STILL: "plugged DP tubes, then the transmitter's own display",
    Sign.CHANGE_OUT_DUE: "the forecast, the lead time, what is in the store room",
}


def sign_of(event: Event) -> Sign | None:
    """The early warning an alarm is about; None for every other alarm."""
    named = event.facts.get("sign")
    return Sign(named) if isinstance(named, str) and named in set(Sign) else None


def shows(event: Event, sign: Sign) -> str:
    """What shows, with its figures."""
    usual = fact_number(event, "usual")
    if event.value is None:
        return SIGN[sign]
    if sign is Sign.DP_STEPPED_DOWN:
        came_from = "" if usual is None else f" from {amount(usual, event.unit)}"
        return f"{SIGN[sign]} (by {amount(abs(event.value), event.unit)}{came_from})"
    beside = "" if usual is None else f", usually {amount(usual, event.unit)}"
    return f"{SIGN[sign]} ({amount(event.value, event.unit)}{beside})"


def over(sign: Sign) -> str:
    """What shows once it is over."""
    return _OVER[sign]


def first_check(sign: Sign) -> str:
    """Where to look first."""
    return _CHECK[sign]


def behind(suspicions: Sequence[Suspicion], check: str) -> str:
    """What may be behind an alarm and where to look first, as the end of its sentence.

    ``check`` is where to look where the evidence does not tell; empty where nothing is known.
    """
    if not suspicions:
        return f"; check first: {check}" if check else ""
    first, *others = suspicions
    surely = "likely" if first.share >= LIKELY else "possibly"
    names = ", or ".join([NAMES[first.trouble], *(NAMES[other.trouble] for other in others)])
    look, caution, _ = CHECKS[first.trouble]
    return f"; {surely} {names}; check first: {look}; caution: {caution}"


def _changed(event: Event) -> str:
    return f"{event.collector}: new set of filters since {_about(event)}, told by {person(event)}{because(event)}"


def _noticed(event: Event) -> str:
    return (
        f"{event.collector}: the residual DP fell and stays low since {_about(event)}: taken for a new set of "
        f"filters; if none was put in, look for a torn bag and say so"
    )


def _recorded(event: Event) -> str:
    cause, action = (one_line(event.facts.get(name) or "not said") for name in ("cause", "action"))
    return f"{event.collector}: {person(event)} recorded for {_about(event)}: cause {cause}; done: {action}"


def _about(event: Event) -> str:
    about_utc_s = fact_number(event, "about_utc_s")
    return moment(event.at_utc_s if about_utc_s is None else about_utc_s)


STORIES: Mapping[str, Callable[[Event], str]] = {
    "filters_changed": _changed,
    "filters_noticed": _noticed,
    "action_recorded": _recorded,
}
