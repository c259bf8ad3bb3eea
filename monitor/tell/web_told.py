"""Web told: the addresses that tell how things are, and the one that takes commands."""

import asyncio
import json
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response

from monitor.clock import Clock
from monitor.tell.command_form import Origin
from monitor.tell.health import HealthReport
from monitor.tell.web_access import is_json
from monitor.tell.web_alarms import AlarmPayload, wanted, write_alarms
from monitor.tell.web_asking import announced_bytes, error
from monitor.tell.web_commands import CommandDoor, Reply, Submit, refusal
from monitor.tell.web_guard import Clocks
from monitor.tell.web_schemas import ALARMS, COMMANDS, HEALTH_ANSWERS, METRICS
from monitor.tell.web_table import Address, How, Right, Visitor
from monitor.words import AnswerCode, Door

#: Writes the metrics down, and their content type, in the form that an ``Accept`` header asks for.
Render = Callable[[str | None], tuple[bytes, str]]
Metrics = Callable[[], Render]
Health = Callable[[], HealthReport]
#: Called on the event loop; what it returns is gone through in a thread, so a generator must go over things that
#: stand still.
Alarms = Callable[[], Iterable[AlarmPayload]]

_JSON = "application/json"
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


class Told:
    """What one door tells and takes.

    Args:
        served: what is told and taken.
        renderer: writes what is large.
        clocks: the times that are asked for.
        door: takes the commands; None where none are taken.
    """

    def __init__(
        self, served: Served, renderer: ThreadPoolExecutor, clocks: Clocks, door: CommandDoor | None
    ) -> None:
        self._served = served
        self._renderer = renderer
        self._utc_s = clocks.utc_s
        self._door = door

    def watched(self) -> tuple[Address, ...]:
        """What a watcher of the watcher asks for."""
        return (
            Address(
                method="GET",
                path="/metrics",
                right=Right.LOOK,
                says="for Prometheus, as text 0.0.4 or OpenMetrics 1.0.0",
                handler=self._metrics,
                openapi={"responses": METRICS},
            ),
            Address(
                method="GET",
                path="/health",
                right=Right.ANYBODY,
                says="200 while every link's scan, the judge and the journal move, else 503",
                handler=self._health,
                openapi={"responses": HEALTH_ANSWERS},
            ),
        )

    def addresses(self) -> tuple[Address, ...]:
        """The alarms, and where commands are taken."""
        alarms = Address(
            method="GET",
            path="/api/v1/alarms",
            right=Right.LOOK,
            says="every alarm; ?state=… (more than one: any of them), ?held=yes or no",
            handler=self._alarms,
            openapi=ALARMS,
        )
        command = Address(
            method="POST",
            path="/api/v1/commands",
            right=Right.OPERATE,
            says="one command: acknowledge, clear, shelve…; the answer says what became of it",
            handler=self._command,
            openapi=COMMANDS,
        )
        return (alarms,) if self._door is None else (alarms, command)

    async def _metrics(self, request: Request, _visitor: Visitor) -> Response:
        loop = asyncio.get_running_loop()
        render = self._served.metrics()
        body, kind = await loop.run_in_executor(self._renderer, render, request.headers.get("accept"))
        return Response(body, headers={"content-type": kind})

    async def _health(self, _request: Request, visitor: Visitor) -> Response:
        report = self._served.health()
        checks = dict(report.checks) if visitor.may_look else {}
        body = json.dumps({"ok": report.ok, "checks": checks}, indent=2, ensure_ascii=False) + "\n"
        return Response(body, status_code=200 if report.ok else 503, media_type=_JSON)

    async def _alarms(self, request: Request, _visitor: Visitor) -> Response:
        try:
            which = wanted(request.query_params.multi_items())
        except ValueError as unfit:
            return error(400, str(unfit))
        loop = asyncio.get_running_loop()
        body = await loop.run_in_executor(self._renderer, write_alarms, self._served.alarms(), which)
        return Response(body, media_type=_JSON)

    async def _command(self, request: Request, visitor: Visitor) -> Response:
        if not is_json(request.headers.getlist):
            return _response(refusal(AnswerCode.MALFORMED, _KIND_WANTED, self._utc_s(), 415))
        assert self._door is not None  # noqa: S101  the address is there only where commands are taken
        try:
            return _response(await self._door.take(_origin(visitor), request.stream(), announced_bytes(request)))
        except ClientDisconnect:
            return Response(status_code=400)  # nobody is left to read it


def _origin(visitor: Visitor) -> Origin:
    if visitor.how is How.SOCKET:
        return Origin(door=Door.COMMAND_LINE)
    return Origin(door=Door.HTTP, person=visitor.person or None)


def _response(reply: Reply) -> Response:
    return Response(reply.body, reply.status, headers=dict(reply.headers), media_type=_JSON)
