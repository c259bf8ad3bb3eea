"""Web routes: which address answers what, on the HTTP address and on the control socket.

/metrics, /health and the alarms can be read by whoever reaches them; commands go through ``web_access`` first.
Metrics and lists are written in a thread of their own, one after another, so that a large site's never hold up the
event loop.
"""

import asyncio
import json
import logging
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from monitor.clock import Clock
from monitor.tell.command_form import Origin
from monitor.tell.command_rate import Bucket
from monitor.tell.health import HealthReport
from monitor.tell.web_access import Access, Refusal, is_json
from monitor.tell.web_alarms import AlarmPayload, wanted, write_alarms
from monitor.tell.web_commands import CommandDoor, Reply, Submit, refusal
from monitor.words import AnswerCode, Door

log = logging.getLogger(__name__)

#: Writes the metrics down, and their content type, in the form that an ``Accept`` header asks for.
Render = Callable[[str | None], tuple[bytes, str]]
Metrics = Callable[[], Render]
Health = Callable[[], HealthReport]
#: Called on the event loop; what it returns is gone through in a thread, so a generator must go over things that
#: stand still.
Alarms = Callable[[], Iterable[AlarmPayload]]

_JSON = "application/json"
_INDEX = """cakewatch: differential pressure across dust collector filters

/metrics          for Prometheus, as text 0.0.4 or OpenMetrics 1.0.0
/health           200 while every link's scan, the judge and the journal move; 503 otherwise
/api/v1/alarms    every alarm, as JSON; ?state=unacknowledged, ?held=yes
/api/v1/commands  takes a command as JSON: acknowledge, clear, shelve…
"""
_API = {
    "GET /api/v1/alarms": "every alarm; ?state=… (more than one: any of them), ?held=yes or no",
    "POST /api/v1/commands": "one command; the answer says what became of it",
}
_KIND_WANTED = "a command is sent as Content-Type: application/json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """What is told and taken.

    Attributes:
        metrics: looks at everything once, on the event loop, where nothing moves meanwhile; what it returns
            writes that down, in a thread.
        health: the state of affairs; called on the event loop.
        alarms: every alarm; called on the event loop.
        submit: the way of a command to the rulebook; None where none are taken.
        clock: stamps the answers.
    """

    metrics: Metrics
    health: Health
    alarms: Alarms
    submit: Submit | None
    clock: Clock


class Routes:
    """The addresses of one door.

    Args:
        served: what is told and taken.
        renderer: writes what is large.
        access: judges who may bring commands; None on the control socket, where the file system did.
    """

    def __init__(self, served: Served, renderer: ThreadPoolExecutor, access: Access | None) -> None:
        self._served = served
        self._renderer = renderer
        self._access = access
        now_s = asyncio.get_running_loop().time
        self._now_s = now_s
        self._door = None if served.submit is None else CommandDoor(served.submit, self._utc_s, now_s)
        # One line a second at most: whoever is turned away must not fill the disk with it.
        self._log_bucket = Bucket.full(10, 1.0, now_s())

    def app(self) -> Starlette:
        """The application."""
        routes = [
            Route("/", _index),
            Route("/metrics", self._get_metrics),
            Route("/health", self._get_health),
            Route("/api/v1", _api),
            Route("/api/v1/", _api),
            Route("/api/v1/alarms", self._get_alarms),
        ]
        if self._door is not None:
            routes.append(Route("/api/v1/commands", self._post_command, methods=["POST"]))
        app = Starlette(routes=routes)
        # A redirection repeats the Host that was sent; a command would be sent to wherever that is.
        app.router.redirect_slashes = False
        return app

    async def _get_metrics(self, request: Request) -> Response:
        loop = asyncio.get_running_loop()
        render = self._served.metrics()
        body, kind = await loop.run_in_executor(self._renderer, render, request.headers.get("accept"))
        return Response(body, headers={"content-type": kind})

    async def _get_health(self, _request: Request) -> Response:
        report = self._served.health()
        body = json.dumps({"ok": report.ok, "checks": dict(report.checks)}, indent=2, ensure_ascii=False) + "\n"
        return Response(body, status_code=200 if report.ok else 503, media_type=_JSON)

    async def _get_alarms(self, request: Request) -> Response:
        try:
            which = wanted(request.query_params.multi_items())
        except ValueError as error:
            return Response(json.dumps({"error": str(error)}, ensure_ascii=False), 400, media_type=_JSON)
        loop = asyncio.get_running_loop()
        body = await loop.run_in_executor(self._renderer, write_alarms, self._served.alarms(), which)
        return Response(body, media_type=_JSON, headers={"Cache-Control": "no-store"})

    async def _post_command(self, request: Request) -> Response:
        origin = self._admit(request)
        if isinstance(origin, Refusal):
            self._log(request, origin)
            refused = refusal(origin.code, origin.text, self._utc_s(), origin.status, origin.headers)
            return _response(refused)
        if not is_json(request.headers.getlist):
            return _response(refusal(AnswerCode.MALFORMED, _KIND_WANTED, self._utc_s(), 415))
        assert self._door is not None  # noqa: S101  the route is there only where commands are taken
        try:
            return _response(await self._door.take(origin, request.stream(), _announced(request)))
        except ClientDisconnect:
            return Response(status_code=400)  # nobody is left to read it

    def _admit(self, request: Request) -> Origin | Refusal:
        if self._access is None:
            return Origin(door=Door.COMMAND_LINE)
        peer = None if request.client is None else request.client.host
        return self._access.judge(peer, request.headers.getlist, self._now_s())

    def _log(self, request: Request, why: Refusal) -> None:
        left = self._log_bucket.take(self._now_s())
        if left is not None:
            self._log_bucket = left
            peer = "unknown" if request.client is None else request.client.host
            log.warning("command turned away peer=%s status=%d why=%r", peer, why.status, why.text)

    def _utc_s(self) -> float:
        return self._served.clock.now().utc_s


async def _index(_request: Request) -> Response:
    return PlainTextResponse(_INDEX)


async def _api(_request: Request) -> Response:
    return Response(json.dumps(_API, indent=2, ensure_ascii=False) + "\n", media_type=_JSON)


def _response(reply: Reply) -> Response:
    return Response(reply.body, reply.status, headers=dict(reply.headers), media_type=_JSON)


def _announced(request: Request) -> int | None:
    """The size of the body as announced; the server has already refused what is no number."""
    found = request.headers.get("content-length")
    return int(found) if found is not None and found.isascii() and found.isdecimal() else None
