"""Downtime: when the unit operated and its monitor gave nothing that counts, for how long, and why.

40 CFR 64.9(a)(2)(ii) asks for number, duration and cause, "including unknown cause, if applicable". It is counted
by quarters of an hour, as the rules for valid hours are: a quarter of operation without one good reading is down,
and neighbours make one incident. Its ends are set to the last good reading before it and the first one after it
where the hour's row tells them. A shorter loss, with good readings left in its quarter, is no downtime.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from monitor.judge.performance.span import Span, total_s
from monitor.report.permit.excursions import told_of
from monitor.report.permit.hour import QUARTER_S, HourState, PermitHour, Ran
from monitor.report.permit.sources import Entry, Maintenance
from monitor.words import Reason

#: A reading comes a little before or after what a person did; so much is not asked after (our choice).
SLACK_S = 60.0


class Why(StrEnum):
    """Why a monitor gave nothing that counts."""

    OUT_OF_SERVICE = "out_of_service"
    NOT_RUNNING = "not_running"
    NOT_GOOD = "not_good"
    UNKNOWN = "unknown"


class Cause(NamedTuple):
    """One cause of a downtime.

    Attributes:
        reason: why readings were not good; the worst of the hour.
        words: what the person said who took the monitor out of service, and who it was.
    """

    why: Why
    reason: Reason = Reason.NONE
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Downtime:
    """One incident.

    Attributes:
        causes: with the seconds of each, the longest first; they add up to the whole.
        entries: what people recorded of it.
    """

    span: Span
    causes: tuple[tuple[Cause, float], ...]
    entries: tuple[Entry, ...] = ()


class _Quarter(NamedTuple):
    """A quarter of an hour in which the monitor was down; ``span`` has its ends as near as they are known."""

    whole: Span
    span: Span
    causes: tuple[tuple[Cause, float], ...]


class Known(NamedTuple):
    """What tells the causes: see ``Sources``."""

    maintenance: Sequence[Maintenance] = ()
    watched: Sequence[Span] | None = None
    entries: Sequence[Entry] = ()


#: Nobody said anything.
NOTHING_KNOWN = Known()


def downtimes(hours: Sequence[PermitHour], known: Known = NOTHING_KNOWN) -> tuple[Downtime, ...]:
    """All incidents, oldest first, of hours that follow one another without a gap."""
    watched = _Watched(known.watched)
    found: list[list[_Quarter]] = []
    for one in _quarters(hours, known.maintenance, watched):
        if found and found[-1][-1].whole.end_utc_s == one.whole.start_utc_s:
            found[-1].append(one)
        else:
            found.append([one])
    return tuple(_incident(run, known.entries) for run in found)


def _quarters(
    hours: Sequence[PermitHour], maintenance: Sequence[Maintenance], watched: "_Watched"
) -> Iterator[_Quarter]:
    for number, hour in enumerate(hours):
        if hour.state in (HourState.NOT_KEPT, HourState.NOT_OPERATING):
            continue
        before = hours[number - 1] if number else None
        after = hours[number + 1] if number + 1 < len(hours) else None
        for quarter in range(4):
            if hour.ran[quarter] is not Ran.STOPPED and not hour.quarters[quarter]:
                whole = _whole(hour, quarter)
                span = _refined(whole, quarter, hour, before, after)
                yield _Quarter(whole, span, tuple(_causes(hour, whole, span, maintenance, watched)))


def _whole(hour: PermitHour, quarter: int) -> Span:
    start_utc_s = hour.start_utc_s + quarter * QUARTER_S
    return Span(start_utc_s, start_utc_s + QUARTER_S)


def _refined(
    whole: Span, quarter: int, hour: PermitHour, before: PermitHour | None, after: PermitHour | None
) -> Span:
    """From the last good reading in the quarter before it to the first one in the quarter after it."""
    earlier = hour if quarter else before
    later = hour if quarter < 3 else after
    start_utc_s, end_utc_s = whole
    last = None if earlier is None else earlier.last_utc_s
    first = None if later is None else later.first_utc_s
    if last is not None and start_utc_s - QUARTER_S <= last < start_utc_s:
        start_utc_s = last
    if first is not None and end_utc_s <= first < end_utc_s + QUARTER_S:
        end_utc_s = first
    return Span(start_utc_s, end_utc_s)


def _causes(
    hour: PermitHour, quarter: Span, span: Span, maintenance: Sequence[Maintenance], watched: "_Watched"
) -> Iterator[tuple[Cause, float]]:
    """What was said of it for as long as that lasted; the rest of the time it does not explain."""
    left_s = span.length_s
    for one in maintenance if hour.is_maintenance else ():
        told_s = min(left_s, one.span.within(span).length_s)
        if told_s > 0.0 and left_s - told_s < SLACK_S:
            told_s = left_s
        if told_s > 0.0:
            left_s -= told_s
            yield Cause(Why.OUT_OF_SERVICE, words=f"{one.reason} ({one.by})"), told_s
    if left_s > 0.0:
        yield _untold(hour, quarter, watched), left_s


def _untold(hour: PermitHour, quarter: Span, watched: "_Watched") -> Cause:
    """Why, where nobody said anything."""
    unwatched_s = watched.missing_s(quarter)
    if unwatched_s >= QUARTER_S / 2:
        return Cause(Why.NOT_RUNNING)
    if hour.worst is not Reason.NONE:
        return Cause(Why.NOT_GOOD, hour.worst)
    return Cause(Why.NOT_RUNNING if unwatched_s > 0.0 else Why.UNKNOWN)


def _incident(run: list[_Quarter], entries: Sequence[Entry]) -> Downtime:
    seconds: dict[Cause, float] = {}
    for one in run:
        for cause, cause_s in one.causes:
            seconds[cause] = seconds.get(cause, 0.0) + cause_s
    span = Span(run[0].span.start_utc_s, run[-1].span.end_utc_s)
    causes = tuple(sorted(seconds.items(), key=lambda item: -item[1]))
    return Downtime(span=span, causes=causes, entries=told_of(span, entries))


class _Watched:
    """When a daemon ran; where no journal tells, it is not said to have been missing."""

    def __init__(self, spans: Sequence[Span] | None) -> None:
        self._spans = spans
        self._ends = [span.end_utc_s for span in spans or ()]

    def missing_s(self, quarter: Span) -> float:
        """Seconds of a quarter of an hour in which none ran."""
        if self._spans is None:
            return 0.0
        near = self._spans[bisect_left(self._ends, quarter.start_utc_s) :]
        inside = []
        for span in near:
            if span.start_utc_s >= quarter.end_utc_s:
                break
            inside.append(span.within(quarter))
        return quarter.length_s - total_s(inside)
