"""Web: /metrics for Prometheus, /health for whoever watches the watcher, and / to say so.

Metrics are rendered in a thread of their own, one scrape after another, so that a large site's scrape never holds
up the event loop; the server never takes the process's signals, and an open connection never holds up its end.
"""

import asyncio
import contextlib
import json
import logging
import socket
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from uvicorn import Config, Server

from monitor.errors import PlantError
from monitor.tell.health import HealthReport
from monitor.tell.settings import HttpSettings
from monitor.tell.web_connection import KEEP_ALIVE_S, BoundedConnection

log = logging.getLogger(__name__)

#: Writes the metrics down, and their content type, in the form that an ``Accept`` header asks for.
Render = Callable[[str | None], tuple[bytes, str]]
Metrics = Callable[[], Render]
Health = Callable[[], HealthReport]

_INDEX = """cakewatch: differential pressure across dust collector filters

/metrics   for Prometheus, as text 0.0.4 or OpenMetrics 1.0.0
/health    200 while every link's scan, the judge and the journal move; 503 otherwise
"""

_STOP_LIMIT_S = 0.8


class WebServer:
    """One HTTP server.

    Args:
        settings: where it listens.
        metrics: looks at everything once, on the event loop, where nothing moves meanwhile; what it returns
            writes that down, in a thread.
        health: the state of affairs; called on the event loop.
    """

    def __init__(self, settings: HttpSettings, metrics: Metrics, health: Health) -> None:
        self._settings = settings
        self._metrics = metrics
        self._health = health
        self._renderer = ThreadPoolExecutor(max_workers=1, thread_name_prefix="metrics")
        self._server = self._make_server()
        self._task: asyncio.Task[None] | None = None
        self.address: tuple[str, int] = (settings.host, settings.port)

    async def start(self) -> None:
        """Listen; sets ``address`` to what was really bound.

        Raises:
            PlantError: the address cannot be had.
        """
        listener = await asyncio.to_thread(_listen, self._settings)
        self.address = listener.getsockname()[:2]
        self._task = asyncio.ensure_future(self._server.serve(sockets=[listener]))
        await self._server.up.wait()
        log.info("web listening on=http://%s:%d", *self.address)

    async def stop(self) -> None:
        """Close, whoever is still connected; within a second."""
        if self._task is None:
            return
        self._server.should_exit = True
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(_STOP_LIMIT_S / 2):
                await asyncio.shield(self._task)
        self._server.force_exit = True
        with contextlib.suppress(TimeoutError, asyncio.CancelledError):
            async with asyncio.timeout(_STOP_LIMIT_S / 2):
                await self._task
        self._renderer.shutdown(wait=False, cancel_futures=True)
        self._task = None

    def _make_server(self) -> "_Server":
        routes = [Route("/", _index), Route("/metrics", self._get_metrics), Route("/health", self._get_health)]
        config = Config(
            Starlette(routes=routes),
            log_config=None,
            access_log=False,
            lifespan="off",
            http=BoundedConnection,
            ws="none",
            timeout_keep_alive=KEEP_ALIVE_S,
            timeout_graceful_shutdown=1,
            server_header=False,
        )
        return _Server(config)

    async def _get_metrics(self, request: Request) -> Response:
        loop = asyncio.get_running_loop()
        body, kind = await loop.run_in_executor(self._renderer, self._metrics(), request.headers.get("accept"))
        return Response(body, headers={"content-type": kind})

    async def _get_health(self, _request: Request) -> Response:
        report = self._health()
        body = json.dumps({"ok": report.ok, "checks": dict(report.checks)}, indent=2, ensure_ascii=False) + "\n"
        return Response(body, status_code=200 if report.ok else 503, media_type="application/json")


class _Server(Server):
    """Says when it is up, and leaves the process's signals alone."""

    def __init__(self, config: Config) -> None:
        super().__init__(config)
        self.up = asyncio.Event()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self.up.set()

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        # SIGTERM and SIGINT belong to the daemon.
        yield


async def _index(_request: Request) -> Response:
    return PlainTextResponse(_INDEX)


def _listen(settings: HttpSettings) -> socket.socket:
    """A listening socket; in a thread, because a host name may have to be looked up."""
    where = f"http address {settings.host}:{settings.port}"
    try:
        found = socket.getaddrinfo(settings.host, settings.port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    except OSError as error:
        raise PlantError(
            f"{where} cannot be found ({error.strerror}): http.host must be one of this machine's"
        ) from None
    family, kind, protocol, _, address = found[0]
    listener = socket.socket(family, kind, protocol)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(address)
        listener.listen(128)
        listener.setblocking(False)
    except OSError as error:
        listener.close()
        raise PlantError(
            f"{where} cannot be had ({error.strerror}): is another program, or another cakewatch, on it?"
        ) from None
    return listener
