"""History answers: a collector in detail, its chart, the trends and the events, as an open page asks for them."""

from collections.abc import Mapping
from functools import partial

from starlette.requests import Request
from starlette.responses import Response

from monitor.errors import StoreError
from monitor.tell.page import chart as charts
from monitor.tell.page import details, queries
from monitor.tell.page.happenings import ATTEMPTS, happening
from monitor.tell.page.packing import json_answer, refused
from monitor.tell.page.page import Page
from monitor.tell.page.queries import ChartAsked
from monitor.tell.page.source import Asked
from monitor.tell.page.whole import Look
from monitor.tell.page.writing import written
from monitor.tell.web_table import Handler, Visitor
from monitor.words import PointId


def answering(handler: Handler) -> Handler:
    """The same, with a question that cannot be understood or a disk that does not answer said in a sentence."""

    async def answer(request: Request, visitor: Visitor) -> Response:
        try:
            return await handler(request, visitor)
        except UnknownCollectorError as error:
            return refused(str(error), 404)
        except ValueError as error:
            return refused(str(error))
        except StoreError as error:
            return refused(str(error), 503)

    return answer


class UnknownCollectorError(ValueError):
    """The site file has no collector of that name."""


class HistoryAnswers:
    """Answers for one page."""

    def __init__(self, page: Page) -> None:
        self._page = page

    async def trends(self, request: Request, _visitor: Visitor) -> Response:
        """The last hours of some collectors, or of all."""
        names = queries.collectors_asked(request.query_params.multi_items())
        plans = self._page.source.plan().collectors
        for name in names:
            _see_that_known(name, plans)
        now_utc_s = self._page.source.now().utc_s
        make = partial(self._page.trends.payload, names or list(plans), now_utc_s)
        return await json_answer(request, self._page.writer, lambda: written(make()))

    async def collector(self, request: Request, _visitor: Visitor) -> Response:
        """One collector in detail."""
        queries.nothing_asked(request.query_params.multi_items())
        look, name = self._look(request)
        # Attempts to call somebody are in the whole list; here they would crowd out what happened.
        asked = _of(look, name, most=details.MOST_EVENTS)._replace(without=ATTEMPTS)
        events = await self._page.source.read_events(asked)
        return await json_answer(request, self._page.writer, lambda: written(details.details(look, name, events)))

    async def chart(self, request: Request, _visitor: Visitor) -> Response:
        """A piece of its history."""
        look, name = self._look(request)
        asked = queries.chart_asked(request.query_params.multi_items(), look.now.utc_s)
        source = self._page.source
        plan, state = look.plan.collectors[name], look.states[name]
        reading = charts.to_read(plan, asked, look.outlets.store, source.step_s())
        points = [PointId(name, role) for role in reading.roles]
        rows = await source.read_rows(points, reading.tier, reading.since_utc_s, asked.until_utc_s)
        found = await source.read_events(_within(look, name, asked))
        events = [event for event in found if charts.is_marked(event)]
        # Where they are more than were read, what is known begins with the first of them.
        begin_s = found[-1].at_utc_s if len(found) >= charts.MOST_READ else asked.from_utc_s
        before = await source.read_before([settings.tag for settings in plan.alarms], begin_s)
        by_role = {point.role: some for point, some in rows.items()}
        make = partial(charts.chart, plan, state, asked, reading, by_role, events, before)
        return await json_answer(request, self._page.writer, lambda: written(make()))

    async def events(self, request: Request, _visitor: Visitor) -> Response:
        """Events of one collector or of all, newest first."""
        asked = queries.events_asked(request.query_params.multi_items())
        look = self._page.look()
        if asked.collector:
            _see_that_known(asked.collector, look.plan.collectors)
        # Never ahead of the journal: what is being written just now may be told a moment later.
        before = min(asked.before_seq or queries.LAST_SEQ, look.latest_seq + 1)
        found = await self._page.source.read_events(
            _of(look, asked.collector, before_seq=before, most=asked.limit + 1)
        )
        told = {"events": [happening(event) for event in found[: asked.limit]], "more": len(found) > asked.limit}
        return await json_answer(request, self._page.writer, lambda: written(told))

    def _look(self, request: Request) -> tuple[Look, str]:
        look, name = self._page.look(), str(request.path_params["name"])
        if not details.has(look, name):
            raise UnknownCollectorError(_unknown(name))
        return look, name


def _see_that_known(name: str, plans: Mapping[str, object]) -> None:
    if name not in plans:
        raise ValueError(_unknown(name))


def _unknown(name: str) -> str:
    return f"the site file has no collector named {name[:80]}"


def _of(look: Look, name: str, *, before_seq: int | None = None, most: int = 50) -> Asked:
    return Asked(name, _tags(look, name), before_seq, most=most)


def _within(look: Look, name: str, asked: ChartAsked) -> Asked:
    return Asked(name, _tags(look, name), None, asked.from_utc_s, asked.until_utc_s, charts.MOST_READ)


def _tags(look: Look, name: str) -> tuple[str, ...]:
    plan = look.plan.collectors.get(name)
    return () if plan is None else tuple(settings.tag for settings in plan.alarms)
