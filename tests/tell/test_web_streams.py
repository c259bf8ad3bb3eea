"""Answers without an end: they live while they are taken, and end with their visitor's session and at the stop."""

import asyncio
import socket
import time

import pytest
from starlette.responses import StreamingResponse

from monitor.tell import web_connection, web_streams
from monitor.tell.web_table import Address, Right
from tests.tell.test_web_tls import make, wrapped
from tests.tell.visiting import Mill, a_session

HEAD = "GET /api/v1/beats HTTP/1.1\r\nHost: localhost\r\n"


class Beats:
    """A stream for tests.

    Attributes:
        size: of one beat.
        ended: how many streams came to their end.
    """

    def __init__(self) -> None:
        self.size = 10
        self.pause_s = 0.02
        self.ended = 0

    def address(self) -> Address:
        return Address(
            method="GET", path="/api/v1/beats", right=Right.LOOK, says="beats", handler=self.answer, lasts=True
        )

    async def answer(self, _request, _visitor):
        return StreamingResponse(self._beats(), media_type="text/event-stream")

    async def _beats(self):
        try:
            while True:
                yield b"b" * self.size
                await asyncio.sleep(self.pause_s)
        finally:
            self.ended += 1


@pytest.fixture
def beats():
    return Beats()


@pytest.fixture
def mill(beats):
    with Mill(addresses=[beats.address()]) as served:
        yield served


def opened(mill, headers=None) -> socket.socket:
    connection = mill.connect()
    lines = "".join(f"{name}: {value}\r\n" for name, value in (headers or {}).items() if name != "Host")
    connection.sendall(f"{HEAD}{lines}\r\n".encode())
    assert connection.recv(12) == b"HTTP/1.1 200"
    return connection


def until_end_s(connection, limit_s=5.0) -> float:
    """Seconds until the other side says that this was all."""
    began = time.monotonic()
    connection.settimeout(limit_s)
    taken = b""
    while not taken.endswith(b"\r\n0\r\n\r\n"):
        piece = connection.recv(65536)
        assert piece
        taken = taken[-20:] + piece
    return time.monotonic() - began


def wait_for(what, limit_s=5.0) -> None:
    until = time.monotonic() + limit_s
    while not what():
        assert time.monotonic() < until
        time.sleep(0.02)


def test_a_stream_that_is_taken_outlives_the_limit_of_an_answer(mill, monkeypatch):
    monkeypatch.setattr(web_connection, "ANSWER_LIMIT_S", 0.2)
    with opened(mill) as connection:
        until = time.monotonic() + 1.0
        while time.monotonic() < until:
            assert connection.recv(4096)


def test_a_stream_that_nobody_takes_is_ended(mill, beats, monkeypatch):
    monkeypatch.setattr(web_connection, "ANSWER_LIMIT_S", 0.3)
    beats.size, beats.pause_s = 1_000_000, 0.0
    with opened(mill):
        wait_for(lambda: beats.ended == 1)


def test_a_stream_that_is_taken_slowly_lives(mill, beats, monkeypatch):
    """Slow is not gone: each time all was taken within the limit."""
    monkeypatch.setattr(web_connection, "ANSWER_LIMIT_S", 0.5)
    beats.size, beats.pause_s = 100_000, 0.1
    with opened(mill) as connection:
        until = time.monotonic() + 1.3
        while time.monotonic() < until:
            connection.recv(1_000_000)
            time.sleep(0.05)
        assert beats.ended == 0


def test_a_stream_ends_with_its_session(mill, beats, monkeypatch):
    monkeypatch.setattr(web_streams, "LOOK_AGAIN_S", 0.1)
    headers = a_session(mill)
    with opened(mill, headers) as logged_out, opened(mill, a_session(mill)) as runs_out, opened(mill) as stays:
        mill.call(lambda: mill.server._doors[0].sessions.end_of(headers["Cookie"].partition("=")[2]))
        assert until_end_s(logged_out) < 2.0
        assert beats.ended == 1
        mill.clock.utc_s += 13 * 3600.0
        assert until_end_s(runs_out) < 2.0
        assert beats.ended == 2
        assert stays.recv(100)


def test_an_open_page_uses_its_session(mill, monkeypatch):
    monkeypatch.setattr(web_streams, "LOOK_AGAIN_S", 0.05)
    headers = a_session(mill)
    with opened(mill, headers):
        for _ in range(3):
            mill.clock.utc_s += 11 * 3600.0
            time.sleep(0.2)
        assert mill.ask("GET", "/api/v1/alarms", None, headers)[0] == 200


def test_there_are_as_many_as_fit_and_whoever_comes_then_reads_why(mill, beats, monkeypatch):
    streams = [opened(mill) for _ in range(web_streams.MOST)]
    status, headers, body = mill.ask("GET", "/api/v1/beats")

    assert (status, headers["retry-after"]) == (503, "30")
    assert b"50 pages are open already" in body
    streams.pop().close()
    wait_for(lambda: beats.ended == 1)
    streams.append(opened(mill))
    for one in streams:
        one.close()


def test_open_pages_take_nobody_elses_place(mill):
    streams = [opened(mill) for _ in range(web_streams.MOST)]
    for _ in range(5):
        assert mill.ask("GET", "/health")[0] == 200
    crowd = [mill.connect() for _ in range(2 * web_connection.MAX_CONNECTIONS)]

    assert mill.ask("GET", "/health")[0] == 200
    assert all(one.recv(10) for one in streams)
    for one in (*streams, *crowd):
        one.close()


def test_streams_that_are_taken_are_told_that_this_was_all_when_the_server_stops(beats):
    with Mill(addresses=[beats.address()]) as mill:
        streams = [opened(mill) for _ in range(10)]
        time.sleep(0.1)
        began = time.monotonic()
    assert time.monotonic() - began < 1.0
    assert beats.ended == 10
    assert max(until_end_s(one) for one in streams) < 0.5
    for one in streams:
        one.close()


def test_open_streams_hold_up_no_stop_whether_taken_or_not(beats, caplog):
    with Mill(addresses=[beats.address()]) as mill:
        streams = [opened(mill) for _ in range(10)]
        beats.size, beats.pause_s = 1_000_000, 0.0
        streams += [opened(mill) for _ in range(5)]
        time.sleep(0.3)
        began = time.monotonic()
    assert time.monotonic() - began < 1.0
    assert beats.ended == 15
    assert "ERROR" not in caplog.text
    for one in streams:
        one.close()


def test_through_tls_a_stream_that_nobody_takes_is_ended_too_and_holds_up_no_stop(beats, monkeypatch, tmp_path):
    monkeypatch.setattr(web_connection, "ANSWER_LIMIT_S", 0.5)
    beats.size, beats.pause_s = 1_000_000, 0.0
    tls = make(tmp_path, "one")
    with Mill(addresses=[beats.address()], settings={"tls": tls}) as mill:
        taken, left = wrapped(mill.server.address, tls), wrapped(mill.server.address, tls)
        for one in (taken, left):
            one.sendall(f"{HEAD}\r\n".encode())
        until = time.monotonic() + 1.5
        while time.monotonic() < until:
            assert taken.recv(1_000_000)
        assert beats.ended == 1
        began = time.monotonic()
    assert time.monotonic() - began < 1.0
    taken.close()
    left.close()


def test_a_phone_that_is_gone_is_given_up(mill):
    with opened(mill):
        served = mill.call(
            lambda: [
                one.transport.get_extra_info("socket").getsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT)
                for server, _ in mill.server._running
                for one in server.server_state.connections
            ]
        )

    assert served == [30_000]
