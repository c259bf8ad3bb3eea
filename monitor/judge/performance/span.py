"""Span: a stretch of the wall clock, and what lies inside it."""

from collections.abc import Iterable
from typing import NamedTuple

DAY_S = 86400.0
HOUR_S = 3600.0
TEN_MINUTES_S = 600.0
MINUTE_S = 60.0


class Span(NamedTuple):
    """From one moment up to, not including, another; Unix seconds."""

    start_utc_s: float
    end_utc_s: float

    @property
    def length_s(self) -> float:
        """Seconds; 0 where it ends before it begins."""
        return max(0.0, self.end_utc_s - self.start_utc_s)

    def holds(self, utc_s: float) -> bool:
        """Whether the moment lies in it."""
        return self.start_utc_s <= utc_s < self.end_utc_s

    def within(self, other: "Span") -> "Span":
        """The part of it that lies in the other; its length is 0 where there is none."""
        return Span(max(self.start_utc_s, other.start_utc_s), min(self.end_utc_s, other.end_utc_s))


def joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    """The same time without overlaps, in order; empty ones are left out."""
    found: list[Span] = []
    for span in sorted(one for one in spans if one.length_s > 0):
        if found and span.start_utc_s <= found[-1].end_utc_s:
            found[-1] = Span(found[-1].start_utc_s, max(found[-1].end_utc_s, span.end_utc_s))
        else:
            found.append(span)
    return tuple(found)


def total_s(spans: Iterable[Span]) -> float:
    """Seconds of spans that do not overlap."""
    return sum(span.length_s for span in spans)


def periods_touched(spans: Iterable[Span], start_utc_s: float, period_s: float) -> int:
    """How many periods, counted off from ``start_utc_s``, hold some part of spans that are ``joined``."""
    count, counted_to = 0, -1
    for span in spans:
        first = max(int((span.start_utc_s - start_utc_s) // period_s), counted_to + 1)
        last = int(-((start_utc_s - span.end_utc_s) // period_s)) - 1
        count += max(0, last - first + 1)
        counted_to = max(counted_to, last)
    return count
