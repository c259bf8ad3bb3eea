"""Spans: from when until when an alarm was active, as the events of the journal tell it."""

from collections.abc import Iterable, Mapping
from typing import Any

from monitor.judge.table import ACTIVE
from monitor.tell.page.rounding import rounded
from monitor.words import Event, EventKind, Priority

Payload = dict[str, Any]


def active_spans(
    before: Iterable[Event], events: Iterable[Event], from_utc_s: float, priorities: Mapping[str, Priority]
) -> list[Payload]:
    """The spans in which alarms were active, in the order of their begin.

    Args:
        before: of each tag the last event before the first of ``events``, or before ``from_utc_s``.
        events: oldest first.
        from_utc_s: where the picture begins: a span that had begun before it begins there.
        priorities: of each tag, for an event that does not say.
    """
    open_ones: dict[str, Payload] = {}
    spans = [
        _open(open_ones, event, from_utc_s, priorities)
        for event in before
        if event.tag is not None and event.state in ACTIVE
    ]
    for event in events:
        if event.kind is not EventKind.ALARM or event.tag is None or event.state is None:
            continue
        is_open = event.tag in open_ones
        if event.state in ACTIVE and not is_open:
            spans.append(_open(open_ones, event, max(from_utc_s, event.at_utc_s), priorities))
        elif event.state not in ACTIVE and is_open:
            ended = open_ones.pop(event.tag)
            ended["until_utc_s"] = rounded(max(event.at_utc_s, ended["from_utc_s"]))
    return sorted(spans, key=lambda span: float(span["from_utc_s"]))


def _open(
    open_ones: dict[str, Payload], event: Event, at_utc_s: float, priorities: Mapping[str, Priority]
) -> Payload:
    tag = event.tag or ""
    priority = event.priority or priorities.get(tag)
    span: Payload = {
        "tag": tag,
        "priority": None if priority is None else priority.value,
        "from_utc_s": rounded(at_utc_s),
        "until_utc_s": None,
    }
    open_ones[tag] = span
    return span
