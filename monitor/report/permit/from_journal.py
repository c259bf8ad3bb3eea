"""From the journal: what people recorded, what was out of service, which alarms were active, who watched."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from monitor.judge.performance.span import Span
from monitor.judge.performance.watching import LastTrace, Watching, no_trace
from monitor.judge.table import ACTIVE
from monitor.report.permit.sources import Alarmed, Entry, Maintenance
from monitor.words import Event, EventKind

_REASON_UNKNOWN = "no reason in the journal"


@dataclass(frozen=True, slots=True)
class Told:
    """What the journal tells of one collector in one period."""

    maintenance: tuple[Maintenance, ...] = ()
    entries: tuple[Entry, ...] = ()
    alarms: tuple[Alarmed, ...] = ()


@dataclass(slots=True)
class _Collector:
    """One collector, followed through the events."""

    bad_signal_tag: str
    out: Maintenance | None = None
    maintenance: list[Maintenance] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    active: dict[str, Alarmed] = field(default_factory=dict)
    alarms: list[Alarmed] = field(default_factory=list)


class Listening:
    """Takes every event of a journal in its order; ``told`` then says what came of it.

    Args:
        bad_signal_tags: by collector, the tag of the alarm that stands for its monitor: out of service, the
            monitor is under maintenance.
        last_trace: when something was last recorded before a moment, for daemons that ended without a word.
    """

    def __init__(self, bad_signal_tags: dict[str, str], last_trace: LastTrace = no_trace) -> None:
        self._collectors = {name: _Collector(tag) for name, tag in bad_signal_tags.items()}
        self.watching = Watching(last_trace)

    def take(self, event: Event) -> None:
        """One more event."""
        self.watching.take(event)
        found = self._collectors.get(event.collector or "")
        if found is None:
            return
        if event.kind is EventKind.SYSTEM and event.happened == "action_recorded":
            found.entries.append(_entry(event))
        elif event.kind is EventKind.ALARM and event.tag is not None:
            _follow(found, event, event.tag)
            if event.tag == found.bad_signal_tag:
                _follow_service(found, event)

    def told(self, collector: str, period: Span) -> Told:
        """What lies in a period, oldest first; what has no end yet lasts until the end of the period."""
        found = self._collectors[collector]
        maintenance = [*found.maintenance, *([found.out] if found.out else [])]
        alarms = [*found.alarms, *found.active.values()]
        return Told(
            tuple(one._replace(span=one.span.within(period)) for one in maintenance if _touches(one.span, period)),
            tuple(sorted(one for one in found.entries if period.holds(one.about_utc_s))),
            tuple(sorted((one for one in alarms if _touches(one.span, period)), key=lambda one: one.span)),
        )

    def watched(self, period: Span, alive_until_utc_s: float | None = None) -> Sequence[Span] | None:
        """When a daemon ran; None where no event tells."""
        if self.watching.first_utc_s is None:
            return None
        return self.watching.spans(period, alive_until_utc_s)


_FOREVER_S = 1e12


def _touches(span: Span, period: Span) -> bool:
    return span.within(period).length_s > 0.0


def _entry(event: Event) -> Entry:
    about = event.facts.get("about_utc_s")
    return Entry(
        about_utc_s=float(about) if isinstance(about, int | float) else event.at_utc_s,
        at_utc_s=event.at_utc_s,
        by=event.by or "",
        cause=str(event.facts.get("cause") or ""),
        action=str(event.facts.get("action") or ""),
    )


def _follow(found: _Collector, event: Event, tag: str) -> None:
    """An alarm that becomes active, or is so no longer."""
    is_active = event.state in ACTIVE
    if is_active and tag not in found.active:
        found.active[tag] = Alarmed(tag, Span(event.at_utc_s, _FOREVER_S), event.occurrence or "")
    elif not is_active and tag in found.active and event.happened != "tested":
        begun = found.active.pop(tag)
        found.alarms.append(begun._replace(span=Span(begun.span.start_utc_s, event.at_utc_s)))


def _follow_service(found: _Collector, event: Event) -> None:
    if event.happened == "taken_out_of_service":
        reason = str(event.facts.get("reason") or _REASON_UNKNOWN)
        found.out = Maintenance(Span(event.at_utc_s, _FOREVER_S), event.by or "nobody named", reason)
    elif found.out is not None and event.happened in ("returned_to_service", "removed"):
        found.maintenance.append(found.out._replace(span=Span(found.out.span.start_utc_s, event.at_utc_s)))
        found.out = None
