"""Wording, held alarms: what is said when an alarm is shelved, suppressed by design or out of service.

Three things are told each time: that nobody is warned by this alarm, who or what did that and why, and how it
ends. What ends says whether the alarm is announced again.

Facts that are understood, all of them optional: ``until_utc_s``, ``reason`` (a person's), ``why`` (one of the
reasons of a hold) with ``under``, ``stands`` (whether the condition is there), ``shelved_by``, ``taken_by``.
"""

from collections.abc import Callable, Mapping

from monitor.judge.table import ACTIVE
from monitor.tell.notation import moment
from monitor.tell.wording_checks import first_check
from monitor.tell.wording_phrases import (
    STATE,
    amount,
    because,
    fact_number,
    held_back,
    one_line,
    person,
    raised_when,
    was_held_back,
)
from monitor.words import AlarmState, Cause, Event, HoldReason


def shelved(event: Event) -> str:
    """A person put it aside for a while."""
    until_utc_s = fact_number(event, "until_utc_s")
    until = "for a while" if until_utc_s is None else f"until {moment(until_utc_s)}"
    return (
        f"{event.tag} shelved by {person(event)} {until}{because(event)}{_was(event)}; "
        f"it warns nobody until then, and is announced again if it is still there at the end"
    )


def unshelved(event: Event) -> str:
    """The shelving is over: a person ended it, or its time was up."""
    if event.cause is Cause.TIMER:
        return f"the shelving of {event.tag} has come to its end{_then(event, 'shelved')}; {_again(event)}"
    return f"{event.tag} unshelved by {person(event)}{_then(event, 'shelved')}; {_again(event)}"


def suppressed(event: Event) -> str:
    """A rule of the site file holds it back."""
    why = _hold_reason(event)
    held = "held back by design" if why is None else f"held back {held_back(why, _under(event))}"
    return f"{event.tag} {held}{_was(event)}: it warns nobody, and is still watched and recorded"


def released(event: Event) -> str:
    """The rule holds it back no longer."""
    why = _hold_reason(event)
    was = "" if why is None else f" (it was, {was_held_back(why, _under(event))})"
    return f"{event.tag} is no longer held back{was}; {_again(event)}"


def taken_out_of_service(event: Event) -> str:
    """A person took it out of service."""
    return (
        f"{event.tag} taken out of service by {person(event)}{because(event)}{_was(event)}; "
        f"it warns nobody until a person returns it to service"
    )


def returned_to_service(event: Event) -> str:
    """A person returned it to service."""
    return f"{event.tag} returned to service by {person(event)}{_then(event, 'taken out')}; {_again(event)}"


def tested(event: Event) -> str:
    """A person asked for a test, to see whether it arrives."""
    now = f"; the alarm itself is {STATE[event.state]}" if event.state else ""
    return f"test of {event.tag} by {person(event)}{because(event)}: this is no alarm, nothing has to be done{now}"


def _then(event: Event, did: str) -> str:
    """Who had held it back, and the reason given then; ``did`` is what that person had done."""
    by = event.facts.get("shelved_by") or event.facts.get("taken_by")
    said = f"{did} by {one_line(by, 60)}" if by else did
    given = because(event)
    return f" ({said}{given})" if by or given else ""


def _again(event: Event) -> str:
    """Whether it is announced again; where the event does not say, what that hangs on."""
    if event.state in ACTIVE:
        return f"it is {STATE[event.state]}{_figures(event)}"
    if event.state is AlarmState.SUPPRESSED_BY_DESIGN:
        return f"it is {STATE[event.state]}"
    stands = event.facts.get("stands")
    if stands is True:
        return "its condition is still there: it is announced again"
    if stands is False:
        return "its condition is not there: nothing is announced"
    return "should its condition be there, it is announced"


def _figures(event: Event) -> str:
    """What somebody needs to whom this comes as news: how much, against what, since when, where to look."""
    how_much = "" if event.value is None else f": DP {amount(event.value, event.unit)}"
    against = "" if event.setpoint is None else f", set point {amount(event.setpoint, event.unit)}"
    look = first_check(event)
    return f"{how_much}{against}{raised_when(event)}{f'; check first: {look}' if look else ''}"


def _was(event: Event) -> str:
    """How it stood before, where that was not simply normal."""
    if event.state_before in (None, AlarmState.NORMAL):
        return ""
    return f" (it was {STATE[event.state_before]})"


def _hold_reason(event: Event) -> HoldReason | None:
    named = event.facts.get("why")
    return HoldReason(named) if isinstance(named, str) and named in set(HoldReason) else None


def _under(event: Event) -> str:
    under = event.facts.get("under")
    return under if isinstance(under, str) else ""


STORIES: Mapping[str, Callable[[Event], str]] = {
    "shelved": shelved,
    "unshelved": unshelved,
    "suppressed": suppressed,
    "released": released,
    "taken_out_of_service": taken_out_of_service,
    "returned_to_service": returned_to_service,
    "tested": tested,
}
