"""The HTTP address, asked by an independent client."""

import asyncio
import json
import socket
import threading
import time
import urllib.error
import urllib.request

import pytest

from monitor.errors import PlantError
from monitor.tell.health import HealthReport
from monitor.tell.settings import HttpSettings
from monitor.tell.web import WebServer

pytestmark = pytest.mark.anyio

WELL = HealthReport({"judge": "ok"})
STUCK = HealthReport({"judge": "the judge has not come round for 20 s", "journal": "ok"})


def server_with(health=WELL, metrics=lambda accept: (f"asked for {accept}".encode(), "text/plain")) -> WebServer:
    return WebServer(HttpSettings(port=0), lambda: metrics, lambda: health)


async def fetch(server: WebServer, path: str, **headers: str) -> tuple[int, str, bytes]:
    def get():
        request = urllib.request.Request(f"http://127.0.0.1:{server.address[1]}{path}", headers=headers)
        try:
            with urllib.request.urlopen(request, timeout=5) as answer:
                return answer.status, answer.headers["Content-Type"], answer.read()
        except urllib.error.HTTPError as error:
            return error.code, error.headers["Content-Type"], error.read()

    return await asyncio.to_thread(get)


async def test_metrics_health_and_an_index_are_served():
    server = server_with()
    await server.start()
    try:
        assert await fetch(server, "/metrics", Accept="x/y") == (200, "text/plain", b"asked for x/y")
        status, kind, body = await fetch(server, "/health")
        assert (status, kind, json.loads(body)) == (
            200,
            "application/json",
            {"ok": True, "checks": {"judge": "ok"}},
        )
        assert (await fetch(server, "/"))[0] == 200
        assert (await fetch(server, "/secret"))[0] == 404
    finally:
        await server.stop()


async def test_health_is_503_and_names_what_is_stuck():
    server = server_with(STUCK)
    await server.start()
    try:
        status, _, body = await fetch(server, "/health")
    finally:
        await server.stop()

    assert status == 503
    assert json.loads(body)["checks"]["judge"] == "the judge has not come round for 20 s"


async def test_a_slow_scrape_holds_up_nothing_else():
    def slow(_accept):
        time.sleep(0.5)
        return b"", "text/plain"

    server = server_with(metrics=slow)
    await server.start()
    try:
        scrape = asyncio.ensure_future(fetch(server, "/metrics"))
        await asyncio.sleep(0.1)
        began = time.monotonic()
        assert (await fetch(server, "/health"))[0] == 200
        assert time.monotonic() - began < 0.3
        await scrape
    finally:
        await server.stop()


async def test_what_is_told_is_looked_up_on_the_loop_and_written_beside_it():
    """Figures that the loop changes must be read by the loop, or a scrape meets them half changed."""
    seen = []

    def look():
        seen.append(threading.current_thread())

        def write(_accept):
            seen.append(threading.current_thread())
            return b"", "text/plain"

        return write

    server = WebServer(HttpSettings(port=0), look, lambda: WELL)
    await server.start()
    try:
        await fetch(server, "/metrics")
    finally:
        await server.stop()

    assert seen[0] is threading.current_thread()
    assert seen[1] is not threading.current_thread()


async def test_a_taken_port_is_one_sentence():
    one = server_with()
    await one.start()
    other = WebServer(HttpSettings(port=one.address[1]), lambda: lambda _: (b"", ""), lambda: WELL)
    try:
        with pytest.raises(PlantError, match="is another program, or another cakewatch, on it"):
            await other.start()
    finally:
        await one.stop()


async def test_an_address_of_another_machine_is_one_sentence():
    with pytest.raises(PlantError, match=r"http address 192\.0\.2\.1:9464 cannot be had"):
        await WebServer(HttpSettings(host="192.0.2.1"), lambda: lambda _: (b"", ""), lambda: WELL).start()


async def test_stopping_takes_less_than_a_second_whoever_is_connected():
    def slow(_accept):
        time.sleep(2.0)
        return b"", "text/plain"

    server = server_with(metrics=slow)
    await server.start()
    where = server.address
    clients = [socket.create_connection(where) for _ in range(3)]
    clients[0].sendall(b"GET /metrics HTTP/1.1\r\nHost: x\r\n\r\n")
    clients[1].sendall(b"GET /metrics HT")
    await asyncio.sleep(0.1)
    began = time.monotonic()
    await server.stop()

    assert time.monotonic() - began < 1.0
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(where)
    for client in clients:
        client.close()


async def test_the_port_is_free_again_after_stopping():
    server = server_with()
    await server.start()
    await fetch(server, "/health")
    await server.stop()
    again = WebServer(HttpSettings(port=server.address[1]), lambda: lambda _: (b"", ""), lambda: WELL)
    await again.start()
    await again.stop()
