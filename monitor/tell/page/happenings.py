"""Happenings: one event of the journal as the page shows it."""

from typing import Any

from monitor.tell.page.rounding import rounded
from monitor.tell.wording import sentence
from monitor.words import Event

Payload = dict[str, Any]

#: What becomes of each attempt of the phone relay.
ATTEMPTS = ("notified", "not_notified")


def happening(event: Event) -> Payload:
    """The event; ``at_utc_s`` is when it happened, however late it is told."""
    return {
        "seq": event.seq,
        "event_id": event.event_id,
        "at_utc_s": rounded(event.at_utc_s),
        "kind": event.kind.value,
        "happened": event.happened,
        "collector": event.collector,
        "link": event.link,
        "tag": event.tag,
        "priority": None if event.priority is None else event.priority.value,
        "state": None if event.state is None else event.state.value,
        "by": event.by,
        "text": sentence(event),
        "phone": _phone(event),
    }


def _phone(event: Event) -> Payload | None:
    """Whom an attempt of the phone relay was to reach, and for what; None for every other event."""
    if event.happened not in ATTEMPTS:
        return None
    return {name: event.facts.get(name) for name in ("message", "ref", "person", "channel", "attempt")}
