"""Wording: every sentence a person reads about what happened: where, what, how much, and what became of it.

Written for the night shift: the collector first, then the quantity with its unit and the set point it met, then
what the alarm did and who or what did it. An event that already carries a text keeps it.

Facts that are understood, all of them optional: ``condition`` (``band`` or ``bad_signal``), ``side`` (``above``
or ``below``), ``judged`` (``damped``, ``residual`` or ``average``), ``reason`` (one of the reasons of a reading)
with ``detail``, ``auto_clear_s``, ``on_delay_s``, ``raised_utc_s``.
"""

from collections.abc import Callable, Mapping

from monitor.tell.notation import duration, figure, moment
from monitor.words import AlarmState, Cause, Event, EventKind, Reason

_QUANTITY: Mapping[str, str] = {"damped": "DP", "residual": "residual DP", "average": "average DP"}

_STATE: Mapping[AlarmState, str] = {
    AlarmState.NORMAL: "normal",
    AlarmState.UNACKNOWLEDGED: "active, not acknowledged",
    AlarmState.ACKNOWLEDGED: "active, acknowledged",
    AlarmState.RETURNED_UNACKNOWLEDGED: "back to normal, not acknowledged",
    AlarmState.LATCHED_UNACKNOWLEDGED: "latched, not acknowledged",
    AlarmState.LATCHED_ACKNOWLEDGED: "latched, acknowledged",
}

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
    Reason.LOOP_FAILED_LOW: "the loop current signals a failure, low (broken wire or transmitter)",
    Reason.LOOP_FAILED_HIGH: "the loop current signals a failure, high (short circuit or transmitter)",
    Reason.OUT_OF_RANGE: "the value is outside what the transmitter can measure",
    Reason.NOT_A_NUMBER: "the device sends no number",
    Reason.STALE: "no new value has come for too long",
    Reason.FROZEN: "the value no longer moves",
}

_SYSTEM: Mapping[str, str] = {
    "started": "the watch has started",
    "stopped": "the watch has stopped: nothing is watched until it is started again",
    "reloaded": "the changed site file is in force",
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
            return _with_detail(_SYSTEM.get(event.happened, event.happened.replace("_", " ")), event)


def reason_in_words(reason: Reason) -> str:
    """Why a reading is not good, as half a sentence."""
    return _REASON[reason]


def state_in_words(state: AlarmState) -> str:
    """An alarm's state as half a sentence."""
    return _STATE[state]


def _alarm(event: Event) -> str:
    tell = _ALARM_STORIES.get(event.happened, _changed)
    return f"{event.collector or 'site'}: {tell(event)}"


def _raised(event: Event) -> str:
    if _is_bad_signal(event):
        return (
            f"the DP signal can no longer be trusted: {_why(event)}; "
            f"alarm {event.tag} {_raised_how(event)}{_since(event)}"
        )
    return f"{_condition(event)}: alarm {_raised_how(event)}{_since(event)}"


def _raised_how(event: Event) -> str:
    again = event.state_before not in (None, AlarmState.NORMAL)
    priority = f", priority {event.priority.value}" if event.priority else ""
    return f"raised{' again' if again else ''}{priority}"


def _condition(event: Event) -> str:
    """Which quantity met which set point, and that it lasted."""
    below = event.facts.get("side") == "below"
    came = "fell to" if below else "reached"
    side = {"above": "high ", "below": "low "}.get(str(event.facts.get("side")), "")
    delay_s = event.facts.get("on_delay_s")
    stayed = "stayed there" if not isinstance(delay_s, float | int) else f"stayed there for {duration(delay_s)}"
    if delay_s == 0:
        return f"{_quantity(event)} {came} the {side}band {event.tag}{_setpoint(event)}"
    return f"{_quantity(event)} {came} the {side}band {event.tag}{_setpoint(event)} and {stayed}"


def _quantity(event: Event) -> str:
    name = _QUANTITY.get(str(event.facts.get("judged", "damped")), "DP")
    return name if event.value is None else f"{name} {_amount(event.value, event)}"


def _setpoint(event: Event) -> str:
    return "" if event.setpoint is None else f" ({_amount(event.setpoint, event)})"


def _amount(value: float, event: Event) -> str:
    return f"{figure(value)} {event.unit}" if event.unit else figure(value)


def _since(event: Event) -> str:
    return f", since {moment(event.at_utc_s)}"


def _back(event: Event) -> str:
    """What the return to normal looked like."""
    if _is_bad_signal(event):
        return f"the DP signal can be trusted again ({event.tag})"
    return f"{_quantity(event)} is back inside {event.tag}{_setpoint(event)}"


def _returned(event: Event) -> str:
    return f"{_back(event)}: alarm returned to normal; nobody has acknowledged it yet{_raised_when(event)}"


def _latched(event: Event) -> str:
    seen = "acknowledged" if event.seen else "nobody has acknowledged it yet"
    auto_clear_s = event.facts.get("auto_clear_s")
    until = "until a person clears it"
    if isinstance(auto_clear_s, float | int):
        until = f"until a person clears it or {duration(auto_clear_s)} of normal have passed"
    return f"{_back(event)}: alarm latched {until}; {seen}{_raised_when(event)}"


def _acknowledged(event: Event) -> str:
    now = f"; it is {_STATE[event.state]}" if event.state else ""
    return f"{event.tag} acknowledged by {_person(event)}{now}{_raised_when(event)}"


def _unlatched(event: Event) -> str:
    return f"latch of {event.tag} undone by {_person(event)}; nobody has acknowledged it yet{_raised_when(event)}"


def _cleared(event: Event) -> str:
    unseen = "; nobody had acknowledged it" if event.seen is False else ""
    if event.cause is Cause.PROCESS:
        return f"{_back(event)}: alarm cleared{unseen}{_raised_when(event)}"
    return f"{event.tag} cleared {_by_whom(event)}{unseen}{_raised_when(event)}"


def _by_whom(event: Event) -> str:
    match event.cause:
        case Cause.TIMER:
            length_s = event.facts.get("auto_clear_s")
            if not isinstance(length_s, float | int):
                return "by the timer"
            return f"by the timer {duration(length_s)} after the return to normal"
        case Cause.SITE_FILE:
            return "by a change of the site file"
        case _:
            return f"by {_person(event)}"


def _removed(event: Event) -> str:
    was = f" while it was {_STATE[event.state_before]}" if event.state_before else ""
    return f"{event.tag} was taken out of the site file{was}: alarm ended"


def _changed(event: Event) -> str:
    now = f", now {_STATE[event.state]}" if event.state else ""
    return f"{event.tag} {event.happened.replace('_', ' ')}{now}"


def _person(event: Event) -> str:
    return event.by or "a person"


def _is_bad_signal(event: Event) -> bool:
    return event.facts.get("condition") == "bad_signal"


def _why(event: Event) -> str:
    """Why the signal is bad: the reason in words, and the detail where it says more."""
    named = event.facts.get("reason")
    known = isinstance(named, str) and named in set(Reason)
    words = _REASON[Reason(str(named))] if known else "its quality is bad"
    detail = event.facts.get("detail")
    return f"{words} ({detail})" if detail else words


def _raised_when(event: Event) -> str:
    raised_utc_s = event.facts.get("raised_utc_s")
    return f" (raised {moment(raised_utc_s)})" if isinstance(raised_utc_s, float | int) else ""


def _link(event: Event) -> str:
    match event.happened:
        case "lost":
            return _with_detail(f"link {event.link} lost: its collectors cannot be seen", event)
        case "restored":
            return _with_detail(f"link {event.link} is connected: its collectors can be seen", event)
        case other:
            return _with_detail(f"link {event.link} {other.replace('_', ' ')}", event)


def _with_detail(words: str, event: Event) -> str:
    detail = event.facts.get("detail")
    return f"{words} ({detail})" if detail else words


_ALARM_STORIES: Mapping[str, Callable[[Event], str]] = {
    "raised": _raised,
    "returned": _returned,
    "latched": _latched,
    "acknowledged": _acknowledged,
    "unlatched": _unlatched,
    "cleared": _cleared,
    "removed": _removed,
}
