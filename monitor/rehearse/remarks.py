"""Remarks: what was assumed in taking recordings for the site's own readings, each in one sentence."""

from collections.abc import Iterator, Mapping, Sequence

from monitor.acquire.traces.trace import Trace
from monitor.condition.channel import AnalogChannel
from monitor.rehearse.door import STALE_STEPS
from monitor.scan.settings import CollectorPlan
from monitor.site.plan import SitePlan
from monitor.words import PointId, Role


def remarks(plan: SitePlan, traces: Sequence[Trace], steps_s: Mapping[PointId, float]) -> Iterator[str]:
    """Everything a reader should know before believing the figures."""
    for trace in traces:
        yield from trace.notes
        yield from _units(trace)
        if trace.ignored:
            yield f"{trace.name}: not used, for the site file has no such point: {', '.join(trace.ignored)}."
        if trace.complaints.count:
            more = trace.complaints.count - len(trace.complaints.named)
            yield from trace.complaints.named
            if more:
                yield f"{trace.name}: and {more:,} more like these."
    for collector in plan.collectors.values():
        yield from _of_collector(plan, collector, steps_s)
    yield "Nobody answers in a rehearsal: what only a person could clear stays."


def _units(trace: Trace) -> Iterator[str]:
    bare = [column for column in trace.columns if not column.is_unit_stated]
    if bare:
        taken = ", ".join(f"{column.heading} ({column.unit})" for column in bare)
        yield f"{trace.name} does not say in which units it is; taken as the site's own: {taken}."


def _of_collector(plan: SitePlan, collector: CollectorPlan, steps_s: Mapping[PointId, float]) -> Iterator[str]:
    step_s = steps_s.get(PointId(collector.name, Role.DP))
    if step_s is None:
        yield f"{collector.name}: the recordings hold nothing of its DP; it is left out."
        return
    channel = collector.points[Role.DP].channel
    if STALE_STEPS * step_s > channel.stale_after_s:
        yield (
            f"{collector.name}: readings usually lie {step_s:g} s apart, so here one turns stale after "
            f"{STALE_STEPS * step_s:g} s, not after the {channel.stale_after_s:g} s of the site file."
        )
    yield from _damping(plan, collector, channel, step_s)
    missing = [
        point.tag for role, point in collector.points.items() if PointId(collector.name, role) not in steps_s
    ]
    if missing and collector.suppression:
        yield (
            f"{collector.name}: the recordings hold nothing of {', '.join(missing)}; "
            "what the site file lets them hold back is not held back here."
        )


def _damping(plan: SitePlan, collector: CollectorPlan, channel: object, step_s: float) -> Iterator[str]:
    """A median over so many samples reaches further where samples are rarer."""
    source = PointId(collector.name, Role.DP)
    period_s = next(
        (link.link.scan_period_s for link in plan.links.values() if any(s.point == source for s in link.sources)),
        step_s,
    )
    if isinstance(channel, AnalogChannel) and channel.median_samples and step_s > 1.5 * period_s:
        yield (
            f"{collector.name}: the site reads each {period_s:g} s and damps by the median of "
            f"{channel.median_samples} readings; here these are {step_s:g} s apart, so damping reaches further."
        )
