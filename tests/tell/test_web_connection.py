"""Connections of the HTTP address that do not behave."""

import asyncio
import contextlib
import socket
import threading
import time
import urllib.request

import pytest

from monitor.tell import web_connection
from monitor.tell.health import HealthReport
from monitor.tell.settings import HttpSettings
from monitor.tell.web import WebServer

pytestmark = pytest.mark.anyio

HEALTH = b"GET /health HTTP/1.1\r\nHost: localhost\r\n\r\n"


@contextlib.asynccontextmanager
async def serving(metrics=lambda accept: (b"", "text/plain")):
    server = WebServer(HttpSettings(port=0), lambda: metrics, lambda: HealthReport({"judge": "ok"}))
    await server.start()
    try:
        yield server.address
    finally:
        await server.stop()


async def ask(address) -> int:
    def get():
        with urllib.request.urlopen(f"http://{address[0]}:{address[1]}/health", timeout=5) as answer:
            return answer.status

    return await asyncio.to_thread(get)


@contextlib.contextmanager
def connections(address, count: int, says: bytes = b""):
    clients = [socket.create_connection(address) for _ in range(count)]
    try:
        for client in clients:
            client.sendall(says)
            client.settimeout(3.0)
        yield clients
    finally:
        for client in clients:
            client.close()


@pytest.mark.parametrize(
    "says", [b"", b"GET /health HT", HEALTH], ids=["nothing", "half a request", "one request"]
)
async def test_a_probe_that_leaks_its_sockets_blinds_nobody(says):
    async with serving() as address:
        for count in (web_connection.MAX_CONNECTIONS - 1, 2 * web_connection.MAX_CONNECTIONS):
            with connections(address, count, says):
                await asyncio.sleep(0.1)
                assert [await ask(address) for _ in range(3)] == [200, 200, 200]


async def test_the_number_of_connections_is_bounded():
    async with serving() as address:
        with connections(address, web_connection.MAX_CONNECTIONS + 7) as clients:
            await asyncio.sleep(0.1)
            for gone in clients[:7]:
                assert gone.recv(1) == b""
            clients[7].setblocking(False)
            with pytest.raises(BlockingIOError):
                clients[7].recv(1)


async def test_while_all_are_at_work_a_further_one_is_sent_away():
    release = threading.Event()

    def slow(_accept):
        release.wait(5.0)
        return b"here", "text/plain"

    async with serving(slow) as address:
        scrape = HEALTH.replace(b"health", b"metrics")
        with connections(address, web_connection.MAX_CONNECTIONS, scrape) as clients:
            await asyncio.sleep(0.1)
            with connections(address, 1) as late:
                assert await asyncio.to_thread(late[0].recv, 1) == b""
            release.set()
            answers = [await asyncio.to_thread(client.recv, 4096) for client in clients]

    assert all(answer.startswith(b"HTTP/1.1 200") for answer in answers)


@pytest.mark.parametrize("says", [b"", b"GET /health HT", HEALTH + b"GET"])
async def test_a_connection_without_a_whole_request_is_closed_in_time(says, monkeypatch):
    monkeypatch.setattr(web_connection, "REQUEST_LIMIT_S", 0.3)
    async with serving() as address:
        with connections(address, 1, says) as (client,):
            began = time.monotonic()
            while await asyncio.to_thread(client.recv, 4096):
                assert time.monotonic() - began < 2.0


async def test_dripping_bytes_buys_no_time(monkeypatch):
    monkeypatch.setattr(web_connection, "REQUEST_LIMIT_S", 0.3)
    async with serving() as address:
        with connections(address, 1, b"GET /health HTTP/1.1\r\n") as (client,):
            assert await asyncio.to_thread(drip_until_cut, client) < 2.0


def drip_until_cut(client: socket.socket) -> float:
    """Send a byte now and then; returns how long the other side bore it, seconds."""
    began = time.monotonic()
    with contextlib.suppress(OSError):
        while time.monotonic() - began < 2.0:
            client.sendall(b"x")
            time.sleep(0.05)
    return time.monotonic() - began


async def test_an_answer_that_nobody_takes_ends_in_time(monkeypatch):
    monkeypatch.setattr(web_connection, "ANSWER_LIMIT_S", 0.3)
    async with serving(lambda _accept: (b"x" * 20_000_000, "text/plain")) as address:
        with connections(address, 1, HEALTH.replace(b"health", b"metrics")) as (client,):
            await asyncio.sleep(0.8)
            taken = 0
            with contextlib.suppress(ConnectionResetError):
                while got := await asyncio.to_thread(client.recv, 1_000_000):
                    taken += len(got)

    assert taken < 20_000_000


async def test_a_scraper_keeps_its_connection_between_scrapes(monkeypatch):
    monkeypatch.setattr(web_connection, "REQUEST_LIMIT_S", 0.2)
    monkeypatch.setattr(web_connection, "ANSWER_LIMIT_S", 0.2)
    async with serving() as address:
        with connections(address, 1) as (client,):
            for _ in range(3):
                client.sendall(HEALTH)
                answer = b""
                while not answer.endswith(b"}\n}\n"):
                    answer += await asyncio.to_thread(client.recv, 4096)
                assert answer.startswith(b"HTTP/1.1 200")
                await asyncio.sleep(0.5)
