"""Happenings: what the phone did, as events for the journal. They are worded where all events are."""

from collections.abc import Iterable, Mapping

from monitor.tell.phone.callout import Callout
from monitor.tell.phone.errand import Errand
from monitor.tell.phone.message import Message, Sent, ToldAlarm
from monitor.words import Event, EventKind, Instant

#: Tags that an event names; the ids of the alarms are all there.
_MOST_TAGS = 8


def attempted(message: Message, errand: Errand | None, sent: Sent, now: Instant) -> Event:
    """One attempt, with what became of it."""
    alarms = message.alarms if errand is None else errand.alarms
    ids = [one.event_id for one in message.alarms] if errand is None else errand.ids
    return _event(
        "notified" if sent.delivered else "not_notified",
        alarms,
        now,
        {
            "message": message.kind.value,
            "ref": message.ref,
            "person": message.person,
            "channel": message.channel,
            "attempt": message.attempt,
            "took_s": round(sent.took_s, 3),
            "why": sent.why or None,
            "alarms": " ".join(ids),
            "tags": _tags(alarms),
        },
    )


def held_back_told(errand: Errand, now: Instant) -> Event:
    """A person got in one message what flood control had put together."""
    facts: dict[str, str | int] = {"person": errand.person, "ref": errand.ref, "count": len(errand.ids)}
    return _event("held_back_told", errand.alarms, now, facts)


def nobody_reached(callout: Callout, why: str, now: Instant) -> Event:
    """Nobody of the whole route could be reached."""
    alarms = [one.alarm for one in callout.entries if one.is_owed]
    ids = " ".join(one.event_id for one in alarms)
    people = ", ".join(callout.called)
    facts = {
        "tags": _tags(alarms),
        "alarms": ids,
        "people": people,
        "why": why or ("no channel took it" if callout.called else "nobody is on duty"),
    }
    return _event("nobody_reached", alarms, now, facts)


def reached_again(callout: Callout, now: Instant) -> Event:
    """Somebody could be reached after all."""
    person = callout.reached[-1] if callout.reached else None
    return _event("reached_again", [one.alarm for one in callout.entries], now, {"person": person})


def given_up(callout: Callout, now: Instant) -> Event:
    """A callout was ended because there were too many."""
    alarms = [one.alarm for one in callout.entries]
    facts = {"tags": _tags(alarms), "detail": "too many callouts are open; the oldest was ended"}
    return _event("callout_given_up", alarms, now, facts)


def _event(
    happened: str, alarms: Iterable[ToldAlarm], now: Instant, facts: Mapping[str, str | float | int | None]
) -> Event:
    first = next(iter(alarms), None)
    return Event(
        kind=EventKind.SYSTEM,
        happened=happened,
        at_utc_s=now.utc_s,
        text="",
        collector=None if first is None else first.collector,
        priority=None if first is None else first.priority,
        facts={name: value for name, value in facts.items() if value is not None},
    )


def _tags(alarms: Iterable[ToldAlarm]) -> str:
    tags = list(dict.fromkeys(one.tag for one in alarms))
    more = f" and {len(tags) - _MOST_TAGS} more" if len(tags) > _MOST_TAGS else ""
    return ", ".join(tags[:_MOST_TAGS]) + more
