"""Wording, phone: who was told by phone and who could not be, as it stands in the journal.

Facts that are understood, all of them optional: ``person``, ``channel``, ``attempt`` (from 1), ``took_s``,
``why`` (of a failure, without secrets), ``message`` (a ``MessageKind``), ``ref``, ``tags``, ``count``, ``detail``;
``people`` who were called, empty where nobody was on duty; ``to`` of a test that was asked for, empty for all.
"""

from collections.abc import Callable, Mapping

from monitor.tell.notation import duration
from monitor.tell.wording_phrases import fact_number, one_line, person
from monitor.words import Event

#: The name under which the way to people stands among the links.
PHONE = "phone"
#: Where to look first when nobody could be reached (common practice, no source).
CHECK = "the phone gateway: credit, SIM, power, network; then the way to the internet"
LOST = "nobody could be reached by phone"
FOUND = "people can be reached by phone again"

_ABOUT: Mapping[str, str] = {
    "alarm": "an alarm",
    "more": "more alarms",
    "reminder": "an alarm nobody has acknowledged",
    "escalation": "an alarm that others have not acknowledged",
    "acknowledged": "an acknowledgement",
    "returned": "a return to normal",
    "held_back": "alarms held back in a flood",
    "all_well": "how the watch stands",
    "test": "a test message",
}


def is_phone(link: str | None) -> bool:
    """Whether that link is the way to people, and none to devices."""
    return link == PHONE


def _notified(event: Event) -> str:
    took_s = fact_number(event, "took_s")
    took = "" if took_s is None else f" in {duration(took_s)}"
    return f"{_whom(event)} told{_about(event, 'of')}{took}{_attempt(event)}{_ref(event)}"


def _not_notified(event: Event) -> str:
    return f"{_whom(event)} not reached{_about(event, 'with')}{_because(event)}{_attempt(event)}{_ref(event)}"


def _nobody_reached(event: Event) -> str:
    called = _word(event, "people", 100)
    who = f" (called: {called})" if called else ""
    check = CHECK if called else "the duty rota in the site file"
    return f"{LOST}{_about(event, 'for')}{who}{_because(event)}; check first: {check}"


def _reached_again(event: Event) -> str:
    who = _word(event, "person")
    return FOUND + (f": {who} was told" if who else "")


def _given_up(event: Event) -> str:
    return f"phone: nobody is called any more{_about(event, 'for')}{_because(event)}"


def _test_asked(event: Event) -> str:
    who = _word(event, "to")
    return f"{person(event)} asked for a test message to {who or 'everybody who can be called'}"


def _held_back_told(event: Event) -> str:
    count = fact_number(event, "count")
    how_many = "alarms" if count is None else "1 alarm" if count == 1 else f"{count:g} alarms"
    return f"{_whom(event)} told of {how_many} held back in a flood, in one message{_ref(event)}"


def _whom(event: Event) -> str:
    who, channel = _word(event, "person") or "somebody", _word(event, "channel")
    return f"phone: {who}{f' by {channel}' if channel else ''}"


def _about(event: Event, word: str) -> str:
    about = _ABOUT.get(str(event.facts.get("message", "")), "")
    tags = _word(event, "tags", 100) or one_line(event.tag or "", 60)
    if about and tags:
        return f" {word} {about} ({tags})"
    return f" {word} {about or tags}" if about or tags else ""


def _because(event: Event) -> str:
    why = _word(event, "why", 100) or _word(event, "detail", 100)
    return f": {why}" if why else ""


def _attempt(event: Event) -> str:
    attempt = fact_number(event, "attempt")
    return "" if attempt is None else f", attempt {attempt:g}"


def _ref(event: Event) -> str:
    ref = _word(event, "ref", 20)
    return f" (#{ref})" if ref else ""


def _word(event: Event, name: str, most: int = 60) -> str:
    fact = event.facts.get(name)
    return one_line(fact, most) if isinstance(fact, str) else ""


STORIES: Mapping[str, Callable[[Event], str]] = {
    "notified": _notified,
    "not_notified": _not_notified,
    "nobody_reached": _nobody_reached,
    "reached_again": _reached_again,
    "message_test_asked": _test_asked,
    "held_back_told": _held_back_told,
    "callout_given_up": _given_up,
}
