"""A small yard whose states a test sets by hand, and the page on it, served on a real socket."""

import asyncio
import json
import zlib
from collections.abc import Mapping
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from uvicorn import Config, Server

from monitor.errors import StoreError
from monitor.figures import LinkFigures, StoreFigures
from monitor.judge.alarm import Alarm
from monitor.scan.settings import LinkAlarmPlan, PlantPlan
from monitor.scan.state import LinkState
from monitor.tell.health import HealthReport
from monitor.tell.page.addresses import page_addresses
from monitor.tell.page.files import PageFiles
from monitor.tell.page.page import Page
from monitor.tell.page.source import Asked, Outlets, PageSite, Source
from monitor.tell.web_table import Visitor
from monitor.words import Event, Instant, Reading
from tests.peers.mosquitto import free_port
from tests.tell import mill

NOW = mill.NOW
LIMIT_S = 10.0


class Yard:
    """Collectors by name, and what the daemon would say beside them."""

    def __init__(self, count: int = 2) -> None:
        self.plans = {f"DC-{101 + n}": mill.plan(101 + n) for n in range(count)}
        self.states = {name: mill.state(plan) for name, plan in self.plans.items()}
        self.at = NOW
        self.site = PageSite(mill.SITE, "Europe/Berlin", "0.0.1")
        self.link = LinkFigures(link="mill", connected=True, turned_at=NOW, turn_limit_s=10.0)
        self.link_plan = LinkAlarmPlan(name="mill", alarm=mill.alarm("UA-1"), units=frozenset({1}))
        self.checks = {"judge": "ok"}
        self.store = StoreFigures(healthy=True)
        self.rows: Mapping[Any, Any] = {}
        self.events: list[Event] = []
        self.asked: list[Any] = []
        self.is_disk_gone = False
        self.page = Page(self.source())
        self.page.changed(self.states)

    def put(self, name: str, dp: Reading | None = None, alarms: dict[str, Alarm] | None = None) -> None:
        """Let a collector show this, and the page hear of it."""
        before = self.states[name]
        known = alarms if alarms is not None else dict(before.watch.alarms)
        reading = dp or before.readings[mill.Role.DP]
        self.states[name] = mill.state(self.plans[name], reading, alarms=known)
        self.page.changed([name])

    def reads(self, name: str, dp_inh2o: float) -> None:
        """A good reading, now."""
        self.put(name, replace(mill.GOOD, value=dp_inh2o, damped=dp_inh2o, at=self.at))

    def source(self) -> Source:
        plan = PlantPlan(collectors=self.plans, links={"mill": self.link_plan})
        return Source(
            site=lambda: self.site,
            plan=lambda: replace(plan, collectors=self.plans),
            told=lambda: self.states,
            told_links=lambda: {"mill": LinkState(connected=True)},
            links=lambda: {"mill": self.link},
            outlets=lambda: Outlets(self.store),
            health=lambda: HealthReport(self.checks),
            now=lambda: self.at,
            latest_seq=lambda: max((event.seq for event in self.events), default=0),
            read_rows=self._rows,
            read_events=self._events,
            read_before=self._before,
        )

    async def _rows(self, points: Any, tier: Any, since: float, until: float) -> Any:
        self._see_disk()
        self.asked.append((tuple(points), tier, since, until))
        return {
            point: [row for row in self.rows.get(point, ()) if since <= row.start_utc_s < until]
            for point in points
        }

    async def _events(self, asked: Asked) -> list[Event]:
        self._see_disk()
        found = [event for event in self.events if not asked.collector or event.collector == asked.collector]
        found = [event for event in found if asked.before_seq is None or event.seq < asked.before_seq]
        found = [event for event in found if asked.since_utc_s <= event.at_utc_s < asked.until_utc_s]
        return sorted(found, key=lambda event: -event.seq)[: asked.most]

    async def _before(self, tags: Any, utc_s: float) -> list[Event]:
        last = {event.tag: event for event in self.events if event.at_utc_s < utc_s and event.tag in tags}
        return list(last.values())

    def _see_disk(self) -> None:
        if self.is_disk_gone:
            raise StoreError("the history cannot be read: the disk is gone")


def later(seconds: float) -> Instant:
    return Instant(NOW.mono_s + seconds, NOW.utc_s + seconds)


class Served:
    """The page's addresses on a port of their own."""

    def __init__(self, port: int) -> None:
        self.port = port

    async def get(self, path: str, **headers: str) -> tuple[int, dict[str, str], bytes]:
        """Status, headers and body, as they came."""
        reader, writer = await self.connect(path, **headers)
        async with asyncio.timeout(LIMIT_S):
            whole = await reader.read()
        writer.close()
        head, _, body = whole.partition(b"\r\n\r\n")
        first, *lines = head.decode().split("\r\n")
        found = {name.lower(): value for name, _, value in (line.partition(": ") for line in lines)}
        return int(first.split()[1]), found, body

    async def json(self, path: str) -> tuple[int, Any]:
        status, _, body = await self.get(path)
        return status, json.loads(body)

    async def connect(self, path: str, **headers: str) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        reader, writer = await asyncio.open_connection("127.0.0.1", self.port)
        more = "".join(f"{name.replace('_', '-')}: {value}\r\n" for name, value in headers.items())
        writer.write(f"GET {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n{more}\r\n".encode())
        await writer.drain()
        return reader, writer


class Listening:
    """One open page: messages in the order they come."""

    def __init__(
        self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, *, packed: bool = False
    ) -> None:
        self.reader, self.writer = reader, writer
        self.headers = b""
        self.text = b""
        self._unpacker = zlib.decompressobj(31) if packed else None

    async def begin(self) -> None:
        self.headers = await self.reader.readuntil(b"\r\n\r\n")

    async def next(self, kind: str = "", within_s: float = LIMIT_S) -> tuple[str, Any]:
        """The next message, or the next of that kind."""
        async with asyncio.timeout(within_s):
            while True:
                found = await self._message()
                if kind in ("", found[0]):
                    return found

    async def _message(self) -> tuple[str, Any]:
        while True:
            while b"\n\n" not in self.text:
                await self._more()
            block, _, self.text = self.text.partition(b"\n\n")
            fields = dict(line.split(": ", 1) for line in block.decode().split("\n"))
            if "event" in fields:
                return fields["event"], json.loads(fields["data"])
            self.retry = fields

    async def _more(self) -> None:
        size = int((await self.reader.readline()).strip() or b"0", 16)
        if size == 0:
            raise EOFError("the stream has ended")
        piece = (await self.reader.readexactly(size + 2))[:-2]
        self.text += piece if self._unpacker is None else self._unpacker.decompress(piece)


@asynccontextmanager
async def listening(served: Served, **headers: str):
    reader, writer = await served.connect("/api/v1/stream", **headers)
    one = Listening(reader, writer, packed="gzip" in headers.get("Accept_Encoding", ""))
    await one.begin()
    try:
        yield one
    finally:
        writer.close()


@asynccontextmanager
async def served(yard: Yard, folder: Path | None = None):
    """The page of that yard, until the end."""
    files = PageFiles() if folder is None else PageFiles(folder)
    app = Starlette(routes=[_route(one) for one in page_addresses(yard.page, files)])
    app.router.redirect_slashes = False
    port = free_port()
    server = Server(Config(app, port=port, log_config=None, lifespan="off", timeout_graceful_shutdown=1))
    telling = asyncio.create_task(yard.page.feed.run())
    serving = asyncio.create_task(server.serve())
    while not server.started:  # noqa: ASYNC110  the library has nothing to wait for
        await asyncio.sleep(0.01)
    try:
        yield Served(port)
    finally:
        yard.page.close()
        telling.cancel()
        server.should_exit = True
        await serving
        await asyncio.wait({telling})


def _route(address: Any) -> Route:
    async def ask(request: Request) -> Response:
        return await address.handler(request, Visitor())

    return Route(address.path, ask, methods=[address.method])
