"""Web: the HTTP address and the control socket, and their life from listening to the end.

The server never takes the process's signals, and an open connection never holds up its end. The two doors have a
server each: whoever takes all connections of the one keeps nobody from the other.
"""

import asyncio
import contextlib
import logging
import socket
import ssl
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from starlette.types import ASGIApp
from uvicorn import Config, Server

from monitor.clock import Clock
from monitor.errors import PlantError
from monitor.tell.control_socket import ControlSocket
from monitor.tell.settings import HttpSettings
from monitor.tell.web_ack import Acks
from monitor.tell.web_commands import Submit
from monitor.tell.web_connection import KEEP_ALIVE_S, BoundedConnection
from monitor.tell.web_door import Door, Kept
from monitor.tell.web_login import May
from monitor.tell.web_table import Address
from monitor.tell.web_tls import renewed, server_context
from monitor.tell.web_told import Alarms, Health, Metrics, Render, Served

__all__ = ["Alarms", "Health", "Metrics", "Render", "WebServer"]

log = logging.getLogger(__name__)

_STOP_LIMIT_S = 0.8


class WebServer:
    """One HTTP address, one control socket, or both.

    Args:
        settings: where it listens, and whose secrets it takes; None for the control socket alone.
        metrics: looks at everything once, on the event loop, where nothing moves meanwhile; what it returns
            writes that down, in a thread.
        health: the state of affairs; called on the event loop.
        alarms: every alarm as a payload, called on the event loop; what it returns is gone through in a thread.
        submit: the way of a command to the rulebook; None where no commands are taken.
        control: where the control socket lies; None for none.
        control_mode: who may connect to it.
        clock: stamps the answers.
        addresses: what is served beside our own, such as the page; where ``GET /`` is among it, it replaces ours.
            The control socket gets those that are no page.
        may: what a person may ask for, to be shown; of the empty name: what the machine itself may.
        sessions: what ``keep_sessions`` was given last, by this server or the one before.
        keep_sessions: writes the sessions down, so that a restart logs nobody out.
        acks: the links that acknowledge; None where messages have none.
    """

    def __init__(  # noqa: PLR0913  one keyword for each thing that is served; they have nothing in common
        self,
        settings: HttpSettings | None,
        metrics: Metrics,
        health: Health,
        alarms: Alarms = tuple,
        submit: Submit | None = None,
        control: Path | None = None,
        *,
        control_mode: int = 0o600,
        clock: Clock | None = None,
        addresses: Iterable[Address] = (),
        may: May = lambda _person: (),
        sessions: str = "",
        keep_sessions: Callable[[str], None] | None = None,
        acks: Acks | None = None,
    ) -> None:
        self._settings = settings
        self._served = Served(metrics=metrics, health=health, alarms=alarms, submit=submit, clock=clock or Clock())
        self._control = None if control is None else ControlSocket(control, control_mode)
        self._addresses = tuple(addresses)
        self._kept = Kept(may=may, sessions=sessions, keep_sessions=keep_sessions, acks=acks)
        self._renderer = ThreadPoolExecutor(max_workers=1, thread_name_prefix="metrics")
        self._doors: list[Door] = []
        self._running: list[tuple[_Server, asyncio.Task[None]]] = []
        self._context: ssl.SSLContext | None = None
        self._renewal: asyncio.Task[None] | None = None
        self.metrics_address: tuple[str, int] | None = None
        self.address: tuple[str, int] | None = None if settings is None else (settings.host, settings.port)

    async def start(self) -> None:
        """Listen; sets ``address`` to what was really bound (None for the control socket alone).

        Raises:
            PlantError: an address, the certificate or the control socket cannot be had; nothing is left listening.
        """
        with contextlib.ExitStack() as undo:
            listeners = await self._listen(undo)
            control = None if self._control is None else await asyncio.to_thread(self._control.open)
            undo.pop_all()
        if control is not None:
            await self._serve(control, self._door().control(self._addresses))
        if self._settings is not None:
            await self._open(self._settings, *listeners)

    async def stop(self) -> None:
        """Close, whoever is still connected; within a second."""
        if self._control is not None:
            self._control.remove()
        if self._renewal is not None:
            self._renewal.cancel()
        for server, _ in self._running:
            server.let_go()
        for door in self._doors:
            door.close()
        await asyncio.gather(*(_end(server, task) for server, task in self._running))
        self._running, self._doors = [], []
        self._renderer.shutdown(wait=False, cancel_futures=True)

    async def _listen(self, undo: contextlib.ExitStack) -> list[socket.socket]:
        """What listens to the network: the address, and that of the figures where the site file names one."""
        settings, found = self._settings, []
        if settings is None:
            return []
        if settings.tls is not None:
            self._context = await asyncio.to_thread(server_context, settings.tls)
        for host, port in filter(None, [(settings.host, settings.port), settings.metrics]):
            listener = await asyncio.to_thread(_listen, host, port)
            undo.callback(listener.close)
            found.append(listener)
        return found

    async def _open(
        self, settings: HttpSettings, listener: socket.socket, figures: socket.socket | None = None
    ) -> None:
        door = self._door()
        host, port = self.address = listener.getsockname()[:2]
        await self._serve(listener, door.open(settings, host, self._addresses), self._context)
        log.info("web listening on=%s://%s:%d", "http" if self._context is None else "https", host, port)
        if figures is not None:
            self.metrics_address = figures.getsockname()[:2]
            await self._serve(figures, door.figures())
            log.info("web listening on=http://%s:%d for=metrics", *self.metrics_address)
        if self._context is not None and settings.tls is not None:
            self._renewal = asyncio.ensure_future(renewed(self._context, settings.tls))

    def _door(self) -> Door:
        door = Door(self._served, self._renderer, self._kept)
        self._doors.append(door)
        return door

    async def _serve(self, listener: socket.socket, app: ASGIApp, context: ssl.SSLContext | None = None) -> None:
        config = _config(app)
        config.load()
        config.ssl = context
        server = _Server(config)
        self._running.append((server, asyncio.ensure_future(server.serve(sockets=[listener]))))
        await server.up.wait()


class _Server(Server):
    """Says when it is up, and leaves the process's signals alone."""

    def __init__(self, config: Config) -> None:
        super().__init__(config)
        self.up = asyncio.Event()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self.up.set()

    def let_go(self) -> None:
        """Abort the connections that could not be told of the end."""
        for one in list(self.server_state.connections):
            if isinstance(one, BoundedConnection):
                one.let_go()

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        # SIGTERM and SIGINT belong to the daemon.
        yield


def _config(app: ASGIApp) -> Config:
    return Config(
        app,
        log_config=None,
        access_log=False,
        lifespan="off",
        http=BoundedConnection,
        ws="none",
        # Whose address it is decides what may be asked for; a header that anybody can write must not change it.
        proxy_headers=False,
        timeout_keep_alive=KEEP_ALIVE_S,
        timeout_graceful_shutdown=1,
        server_header=False,
    )


async def _end(server: _Server, task: asyncio.Task[None]) -> None:
    server.should_exit = True
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(_STOP_LIMIT_S / 2):
            await asyncio.shield(task)
    server.force_exit = True
    with contextlib.suppress(TimeoutError, asyncio.CancelledError):
        async with asyncio.timeout(_STOP_LIMIT_S / 2):
            await task


def _listen(host: str, port: int) -> socket.socket:
    """A listening socket; in a thread, because a host name may have to be looked up."""
    where = f"http address {host}:{port}"
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
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
