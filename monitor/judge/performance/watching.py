"""Watching: in which stretches of time somebody watched, as far as the journal and the history can prove.

An alarm that nobody watched for is not an alarm that did not come, so no figure is divided by time outside them.
A daemon that ends as told says ``stopped``. One that is killed says nothing: it counts as watching until the
last trace it left (an event, or a row of the history), and the time from there to its next start as unwatched.
"""

from collections.abc import Callable

from monitor.judge.performance.span import Span, joined
from monitor.words import Event, EventKind

#: When something was last recorded before a moment (both Unix seconds); None where nobody knows.
LastTrace = Callable[[float], float | None]


def no_trace(_utc_s: float) -> float | None:
    """For a caller who has only events."""
    return None


class Watching:
    """Takes every event from the journal's first on, in order.

    Attributes:
        first_utc_s: of the first event; None before it.
        ends_unsaid: starts before which no end had been told, as (last trace, start), Unix seconds.
    """

    def __init__(self, last_trace: LastTrace = no_trace) -> None:
        self.first_utc_s: float | None = None
        self.ends_unsaid: list[Span] = []
        self._last_trace = last_trace
        self._closed: list[Span] = []
        self._since_utc_s: float | None = None
        self._last_utc_s = 0.0

    def take(self, event: Event) -> None:
        """One more event."""
        at_utc_s = event.at_utc_s
        if self.first_utc_s is None:
            self.first_utc_s = at_utc_s
        happened = event.happened if event.kind is EventKind.SYSTEM else ""
        if happened == "started":
            self._start(at_utc_s)
        elif happened == "stopped":
            self._stop(at_utc_s)
        elif self._since_utc_s is None:
            self._since_utc_s = at_utc_s  # the journal's beginning is lost: who tells of events, watches
        self._last_utc_s = at_utc_s

    def _start(self, at_utc_s: float) -> None:
        if self._since_utc_s is not None:
            trace_utc_s = min(at_utc_s, max(self._last_utc_s, self._last_trace(at_utc_s) or 0.0))
            self.ends_unsaid.append(Span(trace_utc_s, at_utc_s))
            self._closed.append(Span(self._since_utc_s, trace_utc_s))
        self._since_utc_s = at_utc_s

    def _stop(self, at_utc_s: float) -> None:
        if self._since_utc_s is not None:
            self._closed.append(Span(self._since_utc_s, at_utc_s))
        self._since_utc_s = None

    def spans(self, period: Span, alive_until_utc_s: float | None = None) -> tuple[Span, ...]:
        """The watched part of a period.

        Args:
            period: what is asked for.
            alive_until_utc_s: up to when a daemon that told no end is known to have watched; None for now.
        """
        spans = list(self._closed)
        if self._since_utc_s is not None:
            end_utc_s = period.end_utc_s
            if alive_until_utc_s is not None:
                end_utc_s = max(alive_until_utc_s, self._last_utc_s)
            spans.append(Span(self._since_utc_s, end_utc_s))
        return joined(span.within(period) for span in spans)
