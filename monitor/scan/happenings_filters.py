"""Happenings of filters: a set was changed, a change was noticed, a corrective action was recorded."""

from monitor.scan.happenings import asked
from monitor.words import Cause, Command, Event, EventKind


def filters_event(command: Command, at_utc_s: float, now_utc_s: float) -> Event:
    """A person said that a new set was put in at that moment."""
    return Event(
        kind=EventKind.SYSTEM,
        happened="filters_changed",
        at_utc_s=now_utc_s,
        text="",
        collector=command.collector,
        cause=Cause.PERSON,
        by=command.by,
        facts={**asked(command), "about_utc_s": at_utc_s, "reason": " ".join(command.reason.split()) or None},
    )


def noticed_event(collector: str, since_utc_s: float, now_utc_s: float) -> Event:
    """A change of the set shows in the curve; nobody told."""
    return Event(
        kind=EventKind.SYSTEM,
        happened="filters_noticed",
        at_utc_s=now_utc_s,
        text="",
        collector=collector,
        cause=Cause.PROCESS,
        facts={"about_utc_s": since_utc_s},
    )


def action_event(command: Command, now_utc_s: float) -> Event:
    """A person recorded the cause of an excursion and what was done."""
    return Event(
        kind=EventKind.SYSTEM,
        happened="action_recorded",
        at_utc_s=now_utc_s,
        text="",
        collector=command.collector,
        cause=Cause.PERSON,
        by=command.by,
        facts={
            **asked(command),
            "about_utc_s": now_utc_s if command.at_utc_s is None else command.at_utc_s,
            "cause": " ".join(command.reason.split()),
            "action": " ".join(command.action.split()),
        },
    )
