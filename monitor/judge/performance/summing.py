"""Summing: what was gathered from the events of a period → its figures."""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from statistics import median
from typing import NamedTuple

from monitor.judge.performance import rates
from monitor.judge.performance.benchmarks import FULL_HOUR, FULL_TEN_MINUTES
from monitor.judge.performance.figures import (
    Answers,
    Coverage,
    Frequent,
    Full,
    HeldNow,
    HeldTime,
    Holds,
    Load,
    StaleDay,
    Standing,
    Unseen,
    Waiting,
)
from monitor.judge.performance.span import DAY_S, HOUR_S, TEN_MINUTES_S, Span, periods_touched
from monitor.judge.performance.tracks import Held, Track, Wait, WaitEnd
from monitor.judge.table import HELD
from monitor.words import AlarmState, Priority

#: An alarm that has been active for longer is stale (ISA-18.2-2016).
STALE_S = DAY_S
#: An alarm that is raised and gone within this, and does not chatter, is fleeting. ISA-18.2 says "seconds" and no
#: figure; this one is ours.
FLEETING_S = 10.0


class Tagged(NamedTuple):
    """Something of one alarm that had a length."""

    tag: str
    span: Span


def load(
    raised: Mapping[str, Sequence[float]],
    places: Mapping[str, str],
    by_priority: Mapping[Priority, int],
    coverage: Coverage,
    operators: int,
) -> Load:
    """How many alarms there were, from the moments of each alarm's raisings (ascending)."""
    stamps = sorted(stamp for each in raised.values() for stamp in each)

    def full(period_s: float, limit: int) -> Full:
        start_utc_s = coverage.period.start_utc_s
        above = rates.periods_above(stamps, start_utc_s, period_s, limit * operators)
        return Full(above, periods_touched(coverage.watched, start_utc_s, period_s))

    return Load(
        raised=len(stamps),
        by_priority=by_priority,
        tags_raised=len(raised),
        most_frequent=ranked({tag: len(each) for tag, each in raised.items()}, places)[:10],
        peak_ten_minutes=rates.peak(stamps, TEN_MINUTES_S),
        peak_hour=rates.peak(stamps, HOUR_S),
        peak_day=rates.peak(stamps, DAY_S),
        full_ten_minutes=full(TEN_MINUTES_S, FULL_TEN_MINUTES),
        full_hours=full(HOUR_S, FULL_HOUR),
        floods=rates.floods(stamps, operators, coverage.period.end_utc_s),
    )


def ranked(counts: Mapping[str, int], places: Mapping[str, str]) -> tuple[Frequent, ...]:
    """The most frequent first; of equals, by name."""
    order = sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    return tuple(Frequent(tag, places.get(tag, ""), count) for tag, count in order)


def chattering_and_fleeting(
    raised: Mapping[str, Sequence[float]], brief: Iterable[tuple[str, float]], places: Mapping[str, str]
) -> tuple[tuple[Frequent, ...], tuple[Frequent, ...]]:
    """Bursts of chattering and fleeting alarms, by tag; ``brief`` are raisings that were gone within seconds."""
    chatter = {tag: one for tag, stamps in raised.items() if (one := rates.chatter(stamps)).bursts}
    fleeting = Counter(tag for tag, at in brief if tag not in chatter or at not in chatter[tag].stamps)
    return ranked({tag: one.bursts for tag, one in chatter.items()}, places), ranked(fleeting, places)


def standing(tracks: Iterable[Track], end_utc_s: float) -> tuple[Standing, ...]:
    """The alarms that are active at the end, the longest first."""
    found = (
        Standing(one.tag, one.place, since, end_utc_s - since > STALE_S)
        for one in tracks
        if (since := one.active_since_utc_s) is not None
    )
    return tuple(sorted(found, key=lambda one: one.since_utc_s))


def stale_day(active: Iterable[Tagged], period: Span) -> StaleDay | None:
    """The day on which the most different alarms were stale at some time; of equals the first.

    Args:
        active: every stretch in which an alarm was active, also from before the period.
        period: the days are counted off from its start.
    """
    days: defaultdict[int, set[str]] = defaultdict(set)
    for tag, span in active:
        stale = Span(span.start_utc_s + STALE_S, span.end_utc_s).within(period)
        if stale.length_s > 0:
            first = int((stale.start_utc_s - period.start_utc_s) // DAY_S)
            for day in range(first, math.ceil((stale.end_utc_s - period.start_utc_s) / DAY_S)):
                days[day].add(tag)
    if not days:
        return None
    worst = min(days, key=lambda day: (-len(days[day]), day))
    return StaleDay(len(days[worst]), period.start_utc_s + worst * DAY_S)


def answers(waits: Sequence[tuple[str, Wait]], tracks: Iterable[Track], unseen: Sequence[Unseen]) -> Answers:
    """How long the alarms waited for a person."""
    lengths = sorted(
        (max(0.0, wait.until_utc_s - wait.since_utc_s), tag)
        for tag, wait in waits
        if wait.end is WaitEnd.ACKNOWLEDGED
    )
    ends = Counter(wait.end for _, wait in waits)
    waiting = (
        Waiting(one.tag, one.place, since) for one in tracks if (since := one.waits_since_utc_s) is not None
    )
    longest_s, longest_tag = lengths[-1] if lengths else (None, "")
    return Answers(
        acknowledged=len(lengths),
        median_s=median(length for length, _ in lengths) if lengths else None,
        ninetieth_s=lengths[(9 * len(lengths) + 9) // 10 - 1][0] if lengths else None,
        longest_s=longest_s,
        longest_tag=longest_tag,
        waiting=tuple(sorted(waiting, key=lambda one: one.since_utc_s)),
        never=ends[WaitEnd.TIMER] + ends[WaitEnd.OTHERWISE],
        put_aside=ends[WaitEnd.PUT_ASIDE],
        unseen=tuple(unseen),
    )


def holds(held: Iterable[tuple[str, Held]], tracks: Iterable[Track], period: Span) -> Holds:
    """What is held at the period's end, and what was during it."""
    now = (
        HeldNow(one.tag, one.place, one.state, one.since_utc_s, one.by, one.reason, one.until_utc_s)
        for one in tracks
        if one.state in HELD
    )
    parts: defaultdict[AlarmState, list[tuple[str, float]]] = defaultdict(list)
    for tag, one in held:
        length_s = Span(one.since_utc_s, one.until_utc_s).within(period).length_s
        if length_s > 0:
            parts[one.state].append((tag, length_s))
    times = {
        state: HeldTime(len({tag for tag, _ in found}), len(found), sum(length for _, length in found))
        for state in sorted(HELD, key=lambda state: state.value)
        for found in [parts[state]]
    }
    return Holds(now=tuple(sorted(now, key=lambda one: (one.state.value, one.since_utc_s))), times=times)
