"""Addresses: what the page asks, and who answers: a list for the routing, the tests and the OpenAPI document."""

from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from monitor.tell.page import papers, whole
from monitor.tell.page.files import INDEX, PageFiles, takes_gzip
from monitor.tell.page.history_answers import HistoryAnswers, answering
from monitor.tell.page.packing import json_answer, refused
from monitor.tell.page.page import Page
from monitor.tell.page.stream import EventStream
from monitor.tell.page.writing import written
from monitor.tell.web_table import Address, Handler, Right, Visitor


def page_addresses(page: Page, files: PageFiles) -> tuple[Address, ...]:
    """Everything that the page is served by."""
    answers, history = _Answers(page, files), HistoryAnswers(page)
    return (
        Address(
            method="GET", path="/", right=Right.ANYBODY, says="the page itself", handler=answers.index,
            openapi=papers.INDEX, is_page=True,
        ),
        Address(
            method="GET", path="/page/{file}", right=Right.ANYBODY, says="one file of the page",
            handler=answers.file, openapi=papers.FILE, is_page=True,
        ),
        Address(
            method="GET", path="/api/v1/plant", right=Right.LOOK,
            says="the whole plant: links, outlets, collectors and the alarms that are not normal",
            handler=answers.plant, openapi=papers.PLANT,
        ),
        _look("/api/v1/trends", "the last eight hours, in pieces of five minutes", history.trends, papers.TRENDS),
        _look("/api/v1/collectors/{name}", "one collector in detail", history.collector, papers.COLLECTOR),
        _look("/api/v1/collectors/{name}/chart", "a piece of its history", history.chart, papers.CHART),
        _look("/api/v1/events", "events of the journal, newest first", history.events, papers.EVENTS),
        Address(
            method="GET", path="/api/v1/stream", right=Right.LOOK,
            says="the whole plant, then everything that changes, as server-sent events",
            handler=answers.stream, openapi=papers.STREAM, lasts=True,
        ),
    )  # fmt: skip


def _look(path: str, says: str, handler: Handler, paper: Mapping[str, Any]) -> Address:
    return Address(
        method="GET", path=path, right=Right.LOOK, says=says, handler=answering(handler), openapi=paper
    )  # fmt: skip


class _Answers:
    def __init__(self, page: Page, files: PageFiles) -> None:
        self._page = page
        self._files = files

    async def index(self, request: Request, _visitor: Visitor) -> Response:
        return self._files.answer(request, INDEX)

    async def file(self, request: Request, _visitor: Visitor) -> Response:
        return self._files.answer(request, request.path_params["file"])

    async def plant(self, request: Request, _visitor: Visitor) -> Response:
        look = self._page.look()
        return await json_answer(request, self._page.writer, lambda: written(whole.plant(look)))

    async def stream(self, request: Request, _visitor: Visitor) -> Response:
        listener = self._page.feed.join()
        if listener is None:
            return refused("too many pages are open; close some, then this one comes by itself", 503)
        return EventStream(self._page.feed, listener, packed=takes_gzip(request))
