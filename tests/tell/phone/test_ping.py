"""Ping: on time, only while all is well, and never held up by one that hangs."""

import asyncio
import logging
import time

import pytest

from monitor.tell.phone.ping import Pinger, ask
from monitor.tell.phone.settings import Ping
from tests.peers.http_receiver import HttpReceiver
from tests.peers.manners import Manner

pytestmark = pytest.mark.anyio
SECRET = "s3cretPing"


@pytest.fixture
def anyio_backend():
    return "asyncio"


@pytest.fixture
def http():
    with HttpReceiver(path=SECRET) as running:
        yield running


def ping(http, every_s=0.1, limit_s=0.3):
    return Ping(url=http.http_url, every_s=every_s, limit_s=limit_s)


async def run_for(pinger, seconds):
    task = asyncio.create_task(pinger.run())
    await asyncio.sleep(seconds)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)


@pytest.mark.parametrize(
    ("manner", "why"),
    [
        (Manner.TAKE, ""),
        (Manner.REFUSE, "refused: 500"),
        (Manner.HANG, "timed out after 0.3 s"),
        (Manner.DROP, "connection lost"),
    ],
)
def test_what_became_of_it_is_a_phrase(http, manner, why):
    http.manners.always(manner)
    assert ask(ping(http)) == why


def test_nobody_listening_is_no_connection(http):
    http.close()
    assert ask(ping(http)) == "no connection"


def test_a_login_page_in_the_way_does_not_pass_for_the_address(http):
    http.answers[Manner.TAKE] = (
        b"HTTP/1.1 302 Found\r\nLocation: /login\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"
    )
    assert ask(ping(http)) == "redirected: 302"
    assert len(http.requests) == 1


def test_an_address_that_is_none_raises_nothing():
    assert ask(Ping(url="http://[", every_s=10)) == "it cannot be asked"


async def test_it_asks_again_and_again(http):
    pinger = Pinger(ping(http, limit_s=5.0), lambda: True)
    await run_for(pinger, 1.0)
    assert 3 <= pinger.figures.pings <= 10
    assert (pinger.figures.failures, pinger.figures.error) == (0, "")


async def test_it_falls_silent_when_the_watch_does_not_move(http):
    pinger = Pinger(ping(http), lambda: False)
    await run_for(pinger, 0.3)
    assert (http.requests, pinger.figures.pings, pinger.figures.failures) == ([], 0, 0)
    assert "does not move" in pinger.figures.error


async def test_one_that_hangs_holds_up_neither_the_next_nor_the_loop(http):
    http.manners.always(Manner.HANG)
    http.manners.hang_s = 0.35
    pinger = Pinger(ping(http, limit_s=0.15), lambda: True)
    task = asyncio.create_task(pinger.run())
    longest_s, before_s = 0.0, time.monotonic()
    for _ in range(60):
        await asyncio.sleep(0.01)
        longest_s, before_s = max(longest_s, time.monotonic() - before_s), time.monotonic()
    assert pinger.figures.failures >= 3
    assert longest_s < 0.1
    http.manners.always(Manner.TAKE)
    await asyncio.sleep(0.5)
    assert pinger.figures.error == ""
    task.cancel()


async def test_it_stops_at_once_while_one_hangs(http):
    http.manners.always(Manner.HANG)
    pinger = Pinger(ping(http, limit_s=20), lambda: True)
    task = asyncio.create_task(pinger.run())
    await asyncio.sleep(0.1)
    began_s = time.monotonic()
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    assert time.monotonic() - began_s < 0.5


async def test_another_address_is_asked_at_once(http):
    pinger = Pinger(None, lambda: True)
    task = asyncio.create_task(pinger.run())
    await asyncio.sleep(0.05)
    pinger.follow(ping(http, every_s=60))
    await asyncio.sleep(0.2)
    assert pinger.figures.pings == 1
    pinger.follow(None)
    task.cancel()


async def test_a_failure_is_logged_once_and_never_with_the_address(http, caplog):
    caplog.set_level(logging.DEBUG)
    http.manners.always(Manner.REFUSE)
    pinger = Pinger(ping(http, limit_s=5.0), lambda: True)
    await run_for(pinger, 0.8)
    assert pinger.figures.failures >= 2
    assert [record.getMessage() for record in caplog.records if record.name.endswith("ping")] == [
        "ping failed why='refused: 500'"
    ]
    assert SECRET not in caplog.text
    assert SECRET not in str(pinger.figures)
