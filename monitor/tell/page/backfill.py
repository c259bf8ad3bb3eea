"""Backfill: the last hours of every collector as they were before the daemon started, one collector at a time.

In the background: what is read and worked out is done in threads, and the loop has a pause after each.
"""

import asyncio
import logging
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from monitor.errors import StoreError
from monitor.scan.settings import CollectorPlan
from monitor.tell.page import cleanings
from monitor.tell.page.page import Page
from monitor.tell.page.source import Asked, Rows, Tier
from monitor.tell.page.spans import active_spans
from monitor.tell.page.trends import COUNT, STEP_S, Past
from monitor.words import Event, HistoryRow, PointId, Priority, Role

log = logging.getLogger(__name__)

#: After each collector it rests so many times as long as that took: a fifth of one processor at most (our choice).
REST = 4.0
#: Events of the last hours that are looked at, the newest.
MOST_EVENTS = 5000
LENGTH_S = COUNT * STEP_S
#: What tells a cleaning in steps of some seconds, at the least cost.
_CYCLE_ROLES = (Role.DP, Role.FAN_RUNNING, Role.CLEANING_ACTIVE)


async def backfill(page: Page) -> None:
    """Fill the trends of every collector with what was before this moment; ends by itself."""
    with page.feed.guard("past"):
        await _fill(page, page.source.now().utc_s)


async def _fill(page: Page, until_utc_s: float) -> None:
    try:
        for name, stood in (await _alarms(page, until_utc_s)).items():
            page.trends.fill(name, stood)
        # What everybody looks at first is there first; cleanings take some ten times as long.
        for look in (_readings, _cleanings):
            for name, plan in page.source.plan().collectors.items():
                begun_s = asyncio.get_running_loop().time()
                page.trends.fill(name, await look(page, plan, until_utc_s))
                await asyncio.sleep(REST * (asyncio.get_running_loop().time() - begun_s))
    except StoreError as error:
        log.warning("the trends of the page begin with the start why=%s", error)


async def _readings(page: Page, plan: CollectorPlan, until_utc_s: float) -> list[Past]:
    point = PointId(plan.name, Role.DP)
    rows = await page.source.read_rows([point], Tier.MINUTES, until_utc_s - LENGTH_S, until_utc_s)
    return [_past(row) for row in rows[point]]


async def _cleanings(page: Page, plan: CollectorPlan, until_utc_s: float) -> list[Past]:
    if plan.curve is None:
        return []
    points = [PointId(plan.name, role) for role in _CYCLE_ROLES if role in plan.points]
    since_utc_s = until_utc_s - LENGTH_S - cleanings.LEAD_S
    rows = await page.source.read_rows(points, Tier.STEPS, since_utc_s, until_utc_s)
    step_s = page.source.step_s()
    loop = asyncio.get_running_loop()
    return await loop.run_in_executor(page.writer, _cleaned, plan, rows, step_s, until_utc_s)


def _cleaned(plan: CollectorPlan, rows: Rows, step_s: float, until_utc_s: float) -> list[Past]:
    assert plan.curve is not None  # noqa: S101  asked for where it is read alone
    by_role = {point.role: some for point, some in rows.items()}
    found = cleanings.found(plan.curve, by_role, step_s)
    return [Past(cycle.end_utc_s, cleanings=1) for cycle in found if cycle.end_utc_s < until_utc_s]


async def _alarms(page: Page, until_utc_s: float) -> Mapping[str, list[Past]]:
    since_utc_s = until_utc_s - LENGTH_S
    asked = Asked(since_utc_s=since_utc_s, until_utc_s=until_utc_s, most=MOST_EVENTS)
    events = await page.source.read_events(asked)
    plans = page.source.plan().collectors
    tags = [settings.tag for plan in plans.values() for settings in plan.alarms]
    before = await page.source.read_before(
        tags, events[-1].at_utc_s if len(events) == MOST_EVENTS else since_utc_s
    )
    return {
        name: list(_stood(_of(plan, before), _of(plan, events)[::-1], (since_utc_s, until_utc_s), plan))
        for name, plan in plans.items()
    }


def _of(plan: CollectorPlan, events: Iterable[Event]) -> list[Event]:
    return [event for event in events if event.collector == plan.name]


def _stood(
    before: Sequence[Event], events: Sequence[Event], span: tuple[float, float], plan: CollectorPlan
) -> Iterator[Past]:
    """The pieces in which some alarm was active, one entry for each of each alarm."""
    priorities = {settings.tag: settings.priority for settings in plan.alarms}
    for active in active_spans(before, events, span[0], priorities):
        yield from _pieces(active, span[1])


def _pieces(active: Mapping[str, Any], until_utc_s: float) -> Iterator[Past]:
    ended = active["until_utc_s"]
    last = int((until_utc_s if ended is None else ended) // STEP_S)
    for piece in range(int(active["from_utc_s"] // STEP_S), last + 1):
        yield Past(piece * STEP_S, worst=Priority(active["priority"]) if active["priority"] else None)


def _past(row: HistoryRow) -> Past:
    return Past(row.start_utc_s, row.lowest, row.highest, blind=bool(row.bad))
