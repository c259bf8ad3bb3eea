"""Excursions: runs of averages outside of the indicator range, each with what a person recorded of it.

40 CFR 64.1 (from memory): "a departure from an indicator range established for monitoring under this part,
consistent with any averaging period specified for averaging the results of the monitoring". Averages that follow
one another on the same side are one excursion; one that does not count, or an hour without operation, ends it,
because nothing is known of that time.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from monitor.judge.performance.span import Span
from monitor.judge.settings import Side
from monitor.report.permit.averages import Average
from monitor.report.permit.settings import PermitSettings
from monitor.report.permit.sources import Alarmed, Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Excursion:
    """One departure from the range.

    Attributes:
        span: from the begin of its first block to the end of its last.
        operating_s: seconds of operation in it.
        side: on which side.
        bound_inh2o: the bound that was passed.
        worst_inh2o: the average farthest outside.
        averages: how many averages make it up.
        entries: what people recorded of it; empty: nobody did.
        alarms: of this collector that were active during it.
    """

    span: Span
    operating_s: float
    side: Side
    bound_inh2o: float
    worst_inh2o: float
    averages: int
    entries: tuple[Entry, ...] = ()
    alarms: tuple[Alarmed, ...] = ()


def excursions(
    averages: Sequence[Average],
    settings: PermitSettings,
    entries: Sequence[Entry] = (),
    alarms: Sequence[Alarmed] = (),
) -> tuple[Excursion, ...]:
    """All excursions, oldest first."""
    return tuple(_excursion(run, settings, entries, alarms) for run in _runs(averages))


def _runs(averages: Iterable[Average]) -> Iterator[list[Average]]:
    run: list[Average] = []
    for one in averages:
        if run and one.beyond is not run[-1].beyond:
            yield run
            run = []
        if one.beyond is not None:
            run.append(one)
    if run:
        yield run


def _excursion(
    run: list[Average], settings: PermitSettings, entries: Sequence[Entry], alarms: Sequence[Alarmed]
) -> Excursion:
    span = Span(run[0].start_utc_s, run[-1].end_utc_s)
    is_above = run[0].beyond is Side.ABOVE
    means = [one.mean_inh2o for one in run if one.mean_inh2o is not None]
    bound = settings.high_inh2o if is_above else settings.low_inh2o
    assert bound is not None  # noqa: S101  an average is beyond a bound only where there is one
    return Excursion(
        span=span,
        operating_s=sum(one.operating_s for one in run),
        side=Side.ABOVE if is_above else Side.BELOW,
        bound_inh2o=bound,
        worst_inh2o=max(means) if is_above else min(means),
        averages=len(run),
        entries=told_of(span, entries),
        alarms=tuple(one for one in alarms if one.span.within(span).length_s > 0.0),
    )


def told_of(span: Span, entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """What people recorded of a stretch of time: what they said is about a moment in it."""
    return tuple(one for one in entries if span.holds(one.about_utc_s))
