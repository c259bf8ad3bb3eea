"""Story: journals written by hand for the figures of the alarm system; times in seconds from ``T0``."""

from dataclasses import dataclass, field

from monitor.judge.performance.span import Span
from monitor.words import AlarmState, Cause, Event, EventKind, Priority

T0 = 1_750_000_000.0
NORMAL, UNACK, ACKED = AlarmState.NORMAL, AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED
RETURNED, SHELVED = AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.SHELVED
LATCHED_UNACK, LATCHED_ACKED = AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED
SUPPRESSED, REMOVED = AlarmState.SUPPRESSED_BY_DESIGN, AlarmState.OUT_OF_SERVICE


@dataclass
class Story:
    """What happened; each method adds one event."""

    events: list[Event] = field(default_factory=list)
    states: dict[str, AlarmState] = field(default_factory=dict)
    seen: dict[str, bool] = field(default_factory=dict)
    raised_utc_s: dict[str, float] = field(default_factory=dict)

    def alarm(self, at_s, happened, state, tag="PDAH-101", cause=Cause.PROCESS, **more):
        before = self.states.get(tag, NORMAL)
        if happened == "raised" and before is NORMAL:
            self.raised_utc_s[tag], self.seen[tag] = T0 + at_s, False
        self.seen[tag] = self.seen.get(tag, False) or happened == "acknowledged"
        facts = {"raised_utc_s": self.raised_utc_s.get(tag), **more.pop("facts", {})}
        priority = more.pop("priority", Priority.HIGH)
        self.events.append(
            Event(
                kind=EventKind.ALARM,
                happened=happened,
                at_utc_s=T0 + at_s,
                text="",
                collector=f"DC-{tag[-3:]}",
                tag=tag,
                priority=priority,
                state_before=before,
                state=state,
                cause=cause,
                seen=self.seen[tag],
                facts=facts,
                seq=len(self.events) + 1,
                **more,
            )
        )
        self.states[tag] = state

    def system(self, at_s, happened, **facts):
        event = Event(kind=EventKind.SYSTEM, happened=happened, at_utc_s=T0 + at_s, text="", facts=facts)
        self.events.append(event)

    def started(self, at_s=0.0):
        self.system(at_s, "started")

    def stopped(self, at_s):
        self.system(at_s, "stopped")

    def raised(self, at_s, tag="PDAH-101", **more):
        self.alarm(at_s, "raised", UNACK, tag, **more)

    def acknowledged(self, at_s, tag="PDAH-101"):
        self.alarm(at_s, "acknowledged", ACKED, tag, Cause.PERSON, by="anna")

    def latched(self, at_s, tag="PDAH-101"):
        state = LATCHED_ACKED if self.states[tag] is ACKED else LATCHED_UNACK
        self.alarm(at_s, "latched", state, tag)

    def returned(self, at_s, tag="PDAH-101"):
        self.alarm(at_s, "returned", RETURNED, tag)

    def cleared(self, at_s, tag="PDAH-101", cause=Cause.TIMER):
        self.alarm(at_s, "cleared", NORMAL, tag, cause)

    def pulse(self, at_s, tag="PDAH-101", length_s=20.0, **more):
        """Raised, returned, and cleared by a person: an alarm from end to end."""
        self.raised(at_s, tag, **more)
        self.returned(at_s + length_s, tag)
        self.cleared(at_s + length_s, tag, Cause.PERSON)


def span(start_s, end_s):
    return Span(T0 + start_s, T0 + end_s)
