"""Records sources: what the records are made from, fetched from the store of a daemon that may be running."""

import math
from collections.abc import Iterable, Iterator, Sequence
from datetime import tzinfo
from itertools import groupby

from monitor.judge.performance.span import Span
from monitor.remember.history_reading import HistoryReader
from monitor.remember.reading import JournalReader
from monitor.remember.settings import StoreSettings
from monitor.report.permit import picking
from monitor.report.permit.from_journal import Listening
from monitor.report.permit.hour import HOUR_S
from monitor.report.permit.sources import Sources
from monitor.site.plan import SitePlan
from monitor.words import HistoryRow, PointId, Role

#: The history is written in batches; a daemon that ran at a moment may have its last row so much before.
_BATCH_PATIENCE_S = 60.0


def sources_of(plan: SitePlan, names: Sequence[str], period: Span, zone: tzinfo) -> Iterator[Sources]:
    """What the records of these collectors are made from, one after another.

    Raises:
        StoreError: there is no store, or it cannot be read.
    """
    listening, watched = _listened(plan, names, period)
    with HistoryReader(plan.store.folder) as history:
        for name in names:
            yield _sources(plan, name, period, zone, history, listening, watched)


def _listened(plan: SitePlan, names: Sequence[str], period: Span) -> tuple[Listening, Sequence[Span] | None]:
    tags = {name: plan.collectors[name].bad_signal.tag for name in names}
    with JournalReader(plan.store.folder) as journal:
        listening = Listening(tags, journal.last_trace)
        for event in journal.events():
            listening.take(event)
        alive = _alive_until(journal, plan.store, period.end_utc_s)
        return listening, listening.watched(period, alive)


def _alive_until(journal: JournalReader, store: StoreSettings, end_utc_s: float) -> float | None:
    """Up to when a daemon that told no end has left traces; None where they reach the end, or none can be read."""
    trace_utc_s = journal.last_trace(math.inf)
    if trace_utc_s is None:
        return None
    reaches = trace_utc_s + store.history_step_s + store.flush_s + _BATCH_PATIENCE_S >= end_utc_s
    return None if reaches else trace_utc_s + store.history_step_s


def _sources(
    plan: SitePlan,
    name: str,
    period: Span,
    zone: tzinfo,
    history: HistoryReader,
    listening: Listening,
    watched: Sequence[Span] | None,
) -> Sources:
    collector, told = plan.collectors[name], listening.told(name, period)
    dp, fan = PointId(name, Role.DP), PointId(name, Role.FAN_RUNNING)
    hours = list(history.hours(dp, *period))
    has_fan = Role.FAN_RUNNING in collector.points
    fan_hours = list(history.hours(fan, *period)) if has_fan else None
    split = picking.to_split(period, hours, fan_hours, [one.span for one in told.maintenance])
    first = next(iter(history.hours(dp)), None)
    return Sources(
        collector=name,
        description=collector.description,
        dp_tag=collector.points[Role.DP].tag,
        period=period,
        zone=zone,
        settings=plan.permits[name],
        hours=hours,
        fan_hours=fan_hours,
        minutes=list(_minutes(history, dp, split)),
        fan_minutes=list(_minutes(history, fan, split)) if has_fan else [],
        known_from_utc_s=None if first is None else float(first.start_utc_s),
        keeps_s=plan.store.keep_hours_s,
        maintenance=told.maintenance,
        watched=watched,
        told_from_utc_s=listening.watching.first_utc_s,
        entries=told.entries,
        alarms=told.alarms,
    )


def _minutes(history: HistoryReader, point: PointId, hours: Iterable[int]) -> Iterator[HistoryRow]:
    """The minutes of some hours; neighbours are asked for together."""
    for _, run in groupby(enumerate(hours), lambda item: item[1] - item[0] * HOUR_S):
        starts = [start for _, start in run]
        yield from history.minutes(point, starts[0], starts[-1] + HOUR_S)
