"""Chart: a piece of one collector's history, from minutes to years: what is read for it, and the body of it."""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from monitor.figures import StoreFigures
from monitor.scan.settings import CollectorPlan
from monitor.scan.state import CollectorState
from monitor.tell.page import cleanings
from monitor.tell.page.cards import bands
from monitor.tell.page.happenings import happening
from monitor.tell.page.queries import ChartAsked
from monitor.tell.page.rounding import rounded
from monitor.tell.page.source import Tier
from monitor.tell.page.spans import active_spans
from monitor.tell.page.thinning import lowest_within, piece_s, thinned
from monitor.words import Event, EventKind, HistoryRow, Role

Payload = dict[str, Any]

#: Up to such a span each tier is read (our choice: some ten thousand rows at most).
_WIDEST_S: Mapping[Tier, float] = {
    Tier.STEPS: cleanings.WIDEST_S,
    Tier.MINUTES: 15 * 86400.0,
    Tier.HOURS: float("inf"),
}
#: Events in one chart, at most; the newest stay.
MOST_EVENTS = 300
#: Events that are read for the spans of alarms.
MOST_READ = 2000
_ABOUT_FILTERS = frozenset({"filters_changed", "filters_noticed", "action_recorded"})
#: Pulses of the header are over between two steps: it tells nothing here.
_CYCLE_ROLES = (Role.DP, Role.AIR_FLOW, Role.FAN_RUNNING, Role.CLEANING_ACTIVE)


class Reading(NamedTuple):
    """What is to be read for a chart.

    Attributes:
        row_s: length of a row.
        since_utc_s: from when on: before the chart begins, so that its left edge knows what came before.
    """

    tier: Tier
    row_s: float
    roles: tuple[Role, ...]
    since_utc_s: float


def to_read(plan: CollectorPlan, asked: ChartAsked, store: StoreFigures, step_s: float) -> Reading:
    """The finest tier that is not too much for the span, and reaches as far back as any that is not."""
    row_s = {Tier.STEPS: step_s, Tier.MINUTES: 60.0, Tier.HOURS: 3600.0}
    oldest = {
        Tier.STEPS: store.oldest_step_utc_s,
        Tier.MINUTES: store.oldest_minute_utc_s,
        Tier.HOURS: store.oldest_hour_utc_s,
    }
    tier = Tier.HOURS
    for finer in (Tier.MINUTES, Tier.STEPS):
        begins, coarser = oldest[finer], oldest[tier]
        if asked.until_utc_s - asked.from_utc_s > _WIDEST_S[finer]:
            continue
        if begins is None:
            tier = finer if coarser is None else tier
            continue
        # A coarser row begins earlier than the first fine one in it; only what is more than that is a reason.
        if begins <= asked.from_utc_s or coarser is None or begins <= coarser + 2 * row_s[tier]:
            tier = finer
    sees_cycles = tier is Tier.STEPS and plan.curve is not None
    wanted = _CYCLE_ROLES if sees_cycles else (Role.DP, Role.FAN_RUNNING)
    lead_s = max(cleanings.LEAD_S if sees_cycles else 0.0, plan.trends.residual_window_s)
    roles = tuple(role for role in wanted if role in plan.points)
    return Reading(tier, row_s[tier], roles, max(0.0, asked.from_utc_s - lead_s))


def chart(
    plan: CollectorPlan,
    state: CollectorState,
    asked: ChartAsked,
    reading: Reading,
    rows: Mapping[Role, Sequence[HistoryRow]],
    events: Sequence[Event],
    before: Sequence[Event],
) -> Payload:
    """The body.

    Args:
        plan: of the collector.
        state: how it stands.
        asked: the span.
        reading: what was read for it.
        rows: as ``reading`` says, oldest first.
        events: of the collector in the span, newest first.
        before: of each of its tags the last event before the span.
    """
    step_s = piece_s(asked.until_utc_s - asked.from_utc_s, asked.points, reading.row_s)
    first_s = asked.from_utc_s - reading.row_s
    dp = rows[Role.DP]
    priorities = {settings.tag: settings.priority for settings in plan.alarms}
    return {
        "from_utc_s": rounded(asked.from_utc_s),
        "until_utc_s": rounded(asked.until_utc_s),
        "step_s": step_s,
        "tier": reading.tier.value,
        "rows": [
            [rounded(at), rounded(low), rounded(high), rounded(last), quality]
            for at, low, high, last, quality in thinned((row for row in dp if row.start_utc_s > first_s), step_s)
        ],
        "residual": _residual(plan, asked, rows, step_s),
        "cleanings": _cleanings(plan, asked, reading, rows),
        # Nobody counts them beyond what can be seen in the steps.
        "cleanings_a_day": None,
        "bands": bands(plan, state),
        "events": [happening(event) for event in events[:MOST_EVENTS]],
        "alarms": active_spans(before, reversed(events), asked.from_utc_s, priorities),
    }


def _residual(
    plan: CollectorPlan, asked: ChartAsked, rows: Mapping[Role, Sequence[HistoryRow]], step_s: float
) -> list[list[float | None]]:
    standing = frozenset(row.start_utc_s for row in rows.get(Role.FAN_RUNNING, ()) if row.lowest == 0.0)
    found = lowest_within(rows[Role.DP], standing, plan.trends.residual_window_s, step_s)
    return [[rounded(at), rounded(low)] for at, low in found if at + step_s > asked.from_utc_s]


def _cleanings(
    plan: CollectorPlan, asked: ChartAsked, reading: Reading, rows: Mapping[Role, Sequence[HistoryRow]]
) -> list[list[float | None]] | None:
    if reading.tier is not Tier.STEPS or plan.curve is None:
        return None
    return [
        [rounded(cycle.begin_utc_s), rounded(cycle.peak_inh2o), rounded(cycle.residual_inh2o)]
        for cycle in cleanings.found(plan.curve, rows, reading.row_s)
        if asked.from_utc_s <= cycle.begin_utc_s < asked.until_utc_s
    ]


def is_marked(event: Event) -> bool:
    """Whether an event belongs into a chart: what befell an alarm, or the filters."""
    return event.kind is EventKind.ALARM or event.happened in (
        "filters_changed",
        "filters_noticed",
        "action_recorded",
    )
