"""Hours: every hour of a period, judged by the rule of the permit."""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from monitor.judge.performance.span import Span, joined
from monitor.report.permit import operation, picking, valid_hour
from monitor.report.permit.hour import HOUR_S, MINUTE_S, HourState, Lack, PermitHour
from monitor.report.permit.operation import Operation
from monitor.report.permit.picking import Picked
from monitor.report.permit.settings import ValidHour
from monitor.report.permit.sources import Sources
from monitor.words import HistoryRow, HourRow, Reason

_ByMinute = Mapping[int, Mapping[int, HistoryRow]]


def hours(sources: Sources) -> tuple[PermitHour, ...]:
    """Every hour that begins in the period, oldest first, without a gap."""
    judge = _Judge(sources)
    return tuple(judge.hour(start) for start in starts(sources.period))


def starts(period: Span) -> range:
    """The begins of the hours that begin in a period, Unix seconds."""
    first = -int(-period.start_utc_s // HOUR_S) * HOUR_S
    return range(first, max(first, -int(-period.end_utc_s // HOUR_S) * HOUR_S), HOUR_S)


class _Judge:
    """The sources, sorted by hour."""

    def __init__(self, sources: Sources) -> None:
        self._rule = sources.settings.valid_hour
        self._known_from_utc_s = sources.known_from_utc_s
        self._rows = {row.start_utc_s: row for row in sources.hours}
        self._fan = {row.start_utc_s: row for row in sources.fan_hours or ()}
        self._minutes = _by_hour(sources.minutes)
        self._fan_minutes = _by_hour(sources.fan_minutes)
        self._maintenance = _Spans(one.span for one in sources.maintenance)

    def hour(self, start_utc_s: int) -> PermitHour:
        """One hour."""
        if self._known_from_utc_s is None or start_utc_s < self._known_from_utc_s:
            return PermitHour(start_utc_s=start_utc_s, state=HourState.NOT_KEPT)
        ran = operation.of_hour(self._fan.get(start_utc_s), self._fan_minutes.get(start_utc_s, {}))
        maintenance = self._maintenance.inside(Span(start_utc_s, start_utc_s + HOUR_S))
        row = self._rows.get(start_utc_s)
        picked = picking.pick(row, ran, maintenance, self._minutes.get(start_utc_s, {}))
        return _judged(self._rule, start_utc_s, ran, picked, row, is_maintenance=bool(maintenance))


def _judged(
    rule: ValidHour,
    start_utc_s: int,
    ran: Operation,
    picked: Picked,
    row: HourRow | None,
    *,
    is_maintenance: bool,
) -> PermitHour:
    state, lack = _verdict(rule, ran, picked, is_maintenance=is_maintenance)
    is_used = state is not HourState.NOT_OPERATING
    points = sum(picked.points.quarters) if is_used else 0
    return PermitHour(
        start_utc_s=start_utc_s,
        state=state,
        lack=lack,
        ran=ran.ran,
        operating_s=ran.operating_s,
        is_maintenance=is_maintenance,
        by_minutes=picked.by_minutes,
        points=points,
        quarters=picked.points.quarters if is_used else (0, 0, 0, 0),
        left_out=picked.total - points,
        first_utc_s=picked.first_utc_s if is_used else None,
        last_utc_s=picked.last_utc_s if is_used else None,
        mean_inh2o=picked.mean if is_used else None,
        lowest_inh2o=picked.lowest if is_used else None,
        highest_inh2o=picked.highest if is_used else None,
        worst=Reason.NONE if row is None else row.worst,
    )


def _verdict(rule: ValidHour, ran: Operation, picked: Picked, *, is_maintenance: bool) -> tuple[HourState, Lack]:
    if not ran.counted:
        return HourState.NOT_OPERATING, Lack.NOTHING
    lack = valid_hour.lack(rule, picked.points, ran.counted, is_maintenance=is_maintenance)
    return (HourState.VALID if lack is Lack.NOTHING else HourState.INVALID), lack


def _by_hour(minutes: Iterable[HistoryRow]) -> _ByMinute:
    found: defaultdict[int, dict[int, HistoryRow]] = defaultdict(dict)
    for row in minutes:
        start = row.start_utc_s // HOUR_S * HOUR_S
        found[start][(row.start_utc_s - start) // MINUTE_S] = row
    return found


class _Spans:
    """Spans without overlaps, found quickly."""

    def __init__(self, spans: Iterable[Span]) -> None:
        self._spans = joined(spans)
        self._ends = [span.end_utc_s for span in self._spans]

    def inside(self, hour: Span) -> Sequence[Span]:
        """What of them lies in an hour."""
        found = []
        for span in self._spans[bisect_left(self._ends, hour.start_utc_s) :]:
            if span.start_utc_s >= hour.end_utc_s:
                break
            found.append(span.within(hour))
        return [one for one in found if one.length_s > 0.0]
