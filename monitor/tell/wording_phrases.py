"""Wording phrases: the half sentences that more than one sentence is made of.

Names, reasons and details come from people and devices: ``one_line`` keeps each of them on one line and short
enough that the rest of the sentence is still read.
"""

from collections.abc import Mapping

from monitor.tell.notation import figure, moment
from monitor.words import AlarmState, CommandKind, Door, Event, HoldReason, Reason

STATE: Mapping[AlarmState, str] = {
    AlarmState.NORMAL: "normal",
    AlarmState.UNACKNOWLEDGED: "active, not acknowledged",
    AlarmState.ACKNOWLEDGED: "active, acknowledged",
    AlarmState.RETURNED_UNACKNOWLEDGED: "back to normal, not acknowledged",
    AlarmState.LATCHED_UNACKNOWLEDGED: "latched, not acknowledged",
    AlarmState.LATCHED_ACKNOWLEDGED: "latched, acknowledged",
    AlarmState.SHELVED: "shelved",
    AlarmState.SUPPRESSED_BY_DESIGN: "suppressed by design",
    AlarmState.OUT_OF_SERVICE: "out of service",
}

#: While, or under what, an alarm is held back; and the same when it is over.
_HELD: Mapping[HoldReason, tuple[str, str]] = {
    HoldReason.FAN_STOPPED: ("while the fan stands still", "while the fan stood still"),
    HoldReason.START_UP: ("while the fan starts up", "while the fan started up"),
    HoldReason.CLEANING: ("while cleaning is called for", "while cleaning was called for"),
}

DOOR: Mapping[Door, str] = {
    Door.COMMAND_LINE: "on the command line",
    Door.MQTT: "by MQTT",
    Door.HTTP: "by HTTP",
}

#: What is asked for and what is then done, each with a place for what it is done to.
ASKED: Mapping[CommandKind, tuple[str, str]] = {
    CommandKind.ACKNOWLEDGE: ("acknowledge {}", "{} cannot be acknowledged"),
    CommandKind.CLEAR: ("clear {}", "{} cannot be cleared"),
    CommandKind.SHELVE: ("shelve {}", "{} cannot be shelved"),
    CommandKind.UNSHELVE: ("unshelve {}", "{} cannot be unshelved"),
    CommandKind.OUT_OF_SERVICE: ("take {} out of service", "{} cannot be taken out of service"),
    CommandKind.RETURN_TO_SERVICE: ("return {} to service", "{} cannot be returned to service"),
    CommandKind.TEST: ("test {}", "{} cannot be tested"),
    CommandKind.SILENCE: ("silence {}", "{} cannot be silenced"),
    CommandKind.FILTERS_CHANGED: ("begin a new set of filters of {}", "a new set of filters of {} cannot begin"),
    CommandKind.TEST_MESSAGE: ("send a test message to {}", "no test message can be sent to {}"),
    CommandKind.RECORD_ACTION: ("record a corrective action for {}", "nothing can be recorded for {}"),
}


def held_back(why: HoldReason, under: str = "") -> str:
    """While what, or under which alarm, an alarm is held back, as half a sentence."""
    if why is HoldReason.CONSEQUENCE:
        return f"under {one_line(under, 60) or 'another alarm'}, which explains it"
    return _HELD[why][0]


def was_held_back(why: HoldReason, under: str = "") -> str:
    """As ``held_back``, once it is over."""
    if why is HoldReason.CONSEQUENCE:
        return f"under {one_line(under, 60) or 'another alarm'}"
    return _HELD[why][1]


def one_line(text: object, most: int = 100) -> str:
    """What somebody wrote, on one line and at most that many characters long."""
    line = " ".join(str(text).split())
    if len(line) <= most:
        return line
    kept, _, begun = line[:most].rpartition(" ")
    # A long last word is cut: only a short one may be left out whole.
    return f"{kept if kept and len(begun) < most // 3 else line[: most - 1]}…"


def amount(value: float, unit: str | None) -> str:
    """A number with its unit."""
    return f"{figure(value)} {unit}" if unit else figure(value)


def person(event: Event) -> str:
    """Who did it."""
    return one_line(event.by, 60) if event.by else "a person"


def because(event: Event) -> str:
    """The reason that the person gave."""
    reason = event.facts.get("reason")
    # The reason of a bad reading has the same name among the facts, and is nothing that a person said.
    if not isinstance(reason, str) or not reason.strip() or reason in set(Reason):
        return ""
    return f", because: {one_line(reason)}"


def raised_when(event: Event) -> str:
    """When the alarm was raised, in brackets."""
    raised_utc_s = fact_number(event, "raised_utc_s")
    return "" if raised_utc_s is None else f" (raised {moment(raised_utc_s)})"


def fact_number(event: Event, name: str) -> float | None:
    """One fact, where it is a number."""
    fact = event.facts.get(name)
    return float(fact) if isinstance(fact, float | int) and not isinstance(fact, bool) else None


def reason_of(event: Event) -> Reason | None:
    """Why the reading is not good, where the event says so in one of our words."""
    named = event.facts.get("reason")
    return Reason(named) if isinstance(named, str) and named in set(Reason) else None
