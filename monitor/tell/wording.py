"""Wording: every sentence a person reads about what happened: where, what, how much, and what became of it.

Written for the night shift: the collector (or link) first, then the quantity with its unit and the set point it
met, then what the alarm did and who or what did it. An alarm that is raised ends with the one thing to check
first. An event that already carries a text keeps it.

Facts that are understood, all of them optional: ``condition`` (``band``, ``bad_signal``, ``link_lost`` or
``early_warning`` with ``sign``), ``side`` (``above`` or ``below``), ``judged`` (``damped``, ``residual`` or
``average``), ``reason`` (one of the reasons of a reading) with ``detail``, ``auto_clear_s``, ``on_delay_s``,
``raised_utc_s``, ``after`` (the held state out of which an alarm is raised again). For what is held back see
``wording_held``; a refused command has ``command``, ``code`` and ``door``.
"""

from collections.abc import Callable, Mapping

from monitor.judge.table import HELD
from monitor.tell import wording_filters, wording_held, wording_phone
from monitor.tell.notation import duration, moment
from monitor.tell.wording_answers import refusal
from monitor.tell.wording_checks import first_check
from monitor.tell.wording_phrases import STATE, amount, fact_number, one_line, person, raised_when, reason_of
from monitor.words import AlarmState, Cause, Event, EventKind, Reason

_QUANTITY: Mapping[str, str] = {"damped": "DP", "residual": "residual DP", "average": "average DP"}

_REASON: Mapping[Reason, str] = {
    Reason.NONE: "no reason is given",
    Reason.NOT_YET_READ: "nothing has been read yet",
    Reason.NO_CONNECTION: "there is no connection to the device",
    Reason.NO_ANSWER: "the device does not answer",
    Reason.EXCEPTION_CODE: "the device refuses the request",
    Reason.MALFORMED_REPLY: "the device's reply makes no sense",
    Reason.LOOP_BELOW_MEASURING: "the loop current is below the measuring range",
    Reason.LOOP_ABOVE_MEASURING: "the loop current is above the measuring range",
    Reason.LOOP_SATURATED: "the input is at its last count",
    Reason.LOOP_FAILED_LOW: "the loop current signals a failure, low",
    Reason.LOOP_FAILED_HIGH: "the loop current signals a failure, high",
    Reason.OUT_OF_RANGE: "the value is outside its range",
    Reason.NOT_A_NUMBER: "the device sends no number",
    Reason.STALE: "no new value has come for too long",
    Reason.FROZEN: "the value no longer moves",
}

_SYSTEM: Mapping[str, str] = {
    "started": "the watch has started",
    "stopped": "the watch has stopped: nothing is watched until it is started again",
    "reloaded": "the changed site file is in force",
}

#: What is found once it is over; every other condition is a band.
_OVER: Mapping[str, str] = {
    "bad_signal": "the DP signal can be trusted again",
    "link_lost": "its collectors can be seen again",
}


def sentence(event: Event) -> str:
    """What happened, in one plain English sentence without a full stop."""
    if event.text:
        return event.text
    match event.kind:
        case EventKind.ALARM:
            return _alarm(event)
        case EventKind.LINK:
            return _link(event)
        case EventKind.SYSTEM:
            return _system(event)


def reason_in_words(reason: Reason) -> str:
    """Why a reading is not good, as half a sentence."""
    return _REASON[reason]


def state_in_words(state: AlarmState) -> str:
    """An alarm's state as half a sentence."""
    return STATE[state]


def _alarm(event: Event) -> str:
    tell = _ALARM_STORIES.get(event.happened, _changed)
    return f"{_where(event)}: {tell(event)}"


def _where(event: Event) -> str:
    if event.collector or not event.link:
        return event.collector or "site"
    return event.link if wording_phone.is_phone(event.link) else f"link {event.link}"


def what_was_found(event: Event) -> str:
    """What an alarm found when it was raised, as half a sentence: neither where nor when, nor what it did."""
    if wording_filters.sign_of(event) is None and event.facts.get("condition") not in _OVER:
        return _met(event, band="band")
    return _found(event)


def look_first(event: Event) -> str:
    """Where to look first as far as the condition tells, as half a sentence; empty where nothing is known."""
    sign = wording_filters.sign_of(event)
    if sign is not None:
        return wording_filters.first_check(sign)
    return wording_phone.CHECK if wording_phone.is_phone(event.link) else first_check(event)


def _raised(event: Event) -> str:
    behind = wording_filters.behind(event.suspicions, look_first(event))
    return f"{_found(event)}: {_raised_story(event)}{_since(event)}{behind}"


def _raised_story(event: Event) -> str:
    how = _raised_how(event)
    if wording_filters.sign_of(event) is not None:
        return f"early warning {event.tag} {how}"
    return f"alarm {event.tag} {how}" if event.facts.get("condition") in _OVER else f"alarm {how}"


def _found(event: Event) -> str:
    sign = wording_filters.sign_of(event)
    if sign is not None:
        return wording_filters.shows(event, sign)
    match event.facts.get("condition"):
        case "bad_signal":
            return f"DP cannot be trusted: {_why(event)}"
        case "link_lost":
            return _lost(event)
        case _:
            return _condition(event)


def _lost(event: Event) -> str:
    detail = event.facts.get("detail")
    if wording_phone.is_phone(event.link):
        return f"{wording_phone.LOST} {one_line(detail, 140)}" if detail else wording_phone.LOST
    seen = "its collectors cannot be seen"
    return f"{seen} ({one_line(detail, 60)})" if detail else seen


def _raised_how(event: Event) -> str:
    again = " again" if _was_raised_before(event) else ""
    if held := _held_before(event):
        again = f" again after being {STATE[held]}"
    priority = f", priority {event.priority.value}" if event.priority else ""
    # Out of an acknowledged latch it comes back acknowledged (ISA-18.2): whoever reads on should know.
    quiet = ", still acknowledged from before" if event.state is AlarmState.ACKNOWLEDGED else ""
    return f"raised{again}{quiet}{priority}"


def _was_raised_before(event: Event) -> bool:
    """Whether it is the same alarm again: out of a latch, or out of a hold under which it stood all the time."""
    raised_utc_s = fact_number(event, "raised_utc_s")
    earlier = raised_utc_s is not None and raised_utc_s < event.at_utc_s
    return earlier or event.state_before not in (None, AlarmState.NORMAL)


def _held_before(event: Event) -> AlarmState | None:
    """The held state out of which it is raised, if it is."""
    after = event.facts.get("after")
    return next((state for state in HELD if state.value == after), None)


def _condition(event: Event) -> str:
    """Which quantity met which set point, and that it lasted."""
    met = _met(event, band=f"band {event.tag}")
    delay_s = fact_number(event, "on_delay_s")
    # Out of a hold it is the end of the hold that raises it, however long the condition has been there.
    if delay_s == 0 or _held_before(event):
        return met
    return f"{met} and stayed there" + ("" if delay_s is None else f" for {duration(delay_s)}")


def _met(event: Event, band: str) -> str:
    came = "fell to" if event.facts.get("side") == "below" else "reached"
    side = {"above": "high ", "below": "low "}.get(str(event.facts.get("side")), "")
    return f"{_quantity(event)} {came} the {side}{band}{_setpoint(event)}"


def _quantity(event: Event) -> str:
    name = _QUANTITY.get(str(event.facts.get("judged", "damped")), "DP")
    return name if event.value is None else f"{name} {amount(event.value, event.unit)}"


def _setpoint(event: Event) -> str:
    return "" if event.setpoint is None else f" ({amount(event.setpoint, event.unit)})"


def _since(event: Event) -> str:
    """Since when; out of a hold, or answered before, it is the alarm that was raised then."""
    raised_utc_s = fact_number(event, "raised_utc_s")
    same = event.state_before in (None, AlarmState.NORMAL, AlarmState.ACKNOWLEDGED)
    if same and raised_utc_s is not None and raised_utc_s < event.at_utc_s:
        return f", first raised {moment(raised_utc_s)}"
    return f", since {moment(event.at_utc_s)}"


def _back(event: Event) -> str:
    """What the return to normal looked like."""
    sign = wording_filters.sign_of(event)
    found = _OVER.get(str(event.facts.get("condition"))) if sign is None else wording_filters.over(sign)
    if wording_phone.is_phone(event.link):
        found = wording_phone.FOUND
    if found is not None:
        return f"{found} ({event.tag})"
    return f"{_quantity(event)} is back inside {event.tag}{_setpoint(event)}"


def _returned(event: Event) -> str:
    return f"{_back(event)}: alarm returned to normal; nobody has acknowledged it yet{raised_when(event)}"


def _latched(event: Event) -> str:
    seen = "acknowledged" if event.seen else "nobody has acknowledged it yet"
    auto_clear_s = fact_number(event, "auto_clear_s")
    until = "until a person clears it"
    if auto_clear_s is not None:
        until = f"until a person clears it or {duration(auto_clear_s)} of normal have passed"
    return f"{_back(event)}: alarm latched {until}; {seen}{raised_when(event)}"


def _acknowledged(event: Event) -> str:
    now = f"; it is {STATE[event.state]}" if event.state else ""
    return f"{event.tag} acknowledged by {person(event)}{now}{raised_when(event)}"


def _unlatched(event: Event) -> str:
    return f"latch of {event.tag} undone by {person(event)}; nobody has acknowledged it yet{raised_when(event)}"


def _cleared(event: Event) -> str:
    unseen = "; nobody had acknowledged it" if event.seen is False else ""
    if event.cause is Cause.PROCESS:
        return f"{_back(event)}: alarm cleared{unseen}{raised_when(event)}"
    return f"{event.tag} cleared {_by_whom(event)}{unseen}{raised_when(event)}"


def _by_whom(event: Event) -> str:
    match event.cause:
        case Cause.TIMER:
            length_s = fact_number(event, "auto_clear_s")
            after = "" if length_s is None else f" {duration(length_s)} after the return to normal"
            return f"by the timer{after}"
        case Cause.SITE_FILE:
            return "by a change of the site file"
        case _:
            return f"by {person(event)}"


def _removed(event: Event) -> str:
    was = f" while it was {STATE[event.state_before]}" if event.state_before else ""
    return f"{event.tag} was taken out of the site file{was}: alarm ended"


def _changed(event: Event) -> str:
    now = f", now {STATE[event.state]}" if event.state else ""
    return f"{event.tag} {event.happened.replace('_', ' ')}{now}"


def _why(event: Event) -> str:
    """Why the signal is bad: the reason in words, and the detail where it says more."""
    reason = reason_of(event)
    words = "its quality is bad" if reason is None else _REASON[reason]
    detail = event.facts.get("detail")
    # Behind the name of the standard comes what may be broken; the check at the end says that better.
    return f"{words} ({one_line(str(detail).split(' (NE 43)')[0], 60)})" if detail else words


def _link(event: Event) -> str:
    if wording_phone.is_phone(event.link):
        return _with_detail(wording_phone.LOST if event.happened == "lost" else wording_phone.FOUND, event)
    match event.happened:
        case "lost":
            return _with_detail(f"link {event.link} lost: its collectors cannot be seen", event)
        case "restored":
            return _with_detail(f"link {event.link} is connected: its collectors can be seen", event)
        case other:
            return _with_detail(f"link {event.link} {other.replace('_', ' ')}", event)


def _system(event: Event) -> str:
    match event.happened:
        case "silenced":
            return f"horn silenced by {person(event)}; every alarm stays as it is, and a new one sounds again"
        case "command_refused":
            return refusal(event)
        case other if other in _SYSTEM_STORIES:
            return _SYSTEM_STORIES[other](event)
        case other:
            return _with_detail(_SYSTEM.get(other, other.replace("_", " ")), event)


def _with_detail(words: str, event: Event) -> str:
    return f"{words} ({detail})" if (detail := event.facts.get("detail")) else words


_SYSTEM_STORIES: Mapping[str, Callable[[Event], str]] = {**wording_filters.STORIES, **wording_phone.STORIES}

_ALARM_STORIES: Mapping[str, Callable[[Event], str]] = {
    "raised": _raised,
    "returned": _returned,
    "latched": _latched,
    "acknowledged": _acknowledged,
    "unlatched": _unlatched,
    "cleared": _cleared,
    "removed": _removed,
    **wording_held.STORIES,
}
