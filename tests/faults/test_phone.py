"""Phones through real servers: what hangs delays nobody else, what is back gets what it missed.

An SMTP server and HTTP receivers on loopback, the real notification library, a real store.
"""

import asyncio
import logging
import socket
import statistics
import time

import pytest

from monitor.tell.phone import gateway
from tests.peers.http_receiver import HttpReceiver
from tests.peers.manners import Manner
from tests.peers.smtp_receiver import SmtpReceiver
from tests.tell.phone.calling import Calling, person, settings, until

pytestmark = pytest.mark.anyio
SECRET = "t0kenOfAnna"


@pytest.fixture
def anyio_backend():
    return "asyncio"


@pytest.fixture(scope="module", autouse=True)
def _loaded():
    assert gateway.load() == ""


@pytest.fixture
def anna():
    with HttpReceiver(path=SECRET) as running:
        yield running


@pytest.fixture
def ben():
    with HttpReceiver() as running:
        yield running


@pytest.fixture
def mail():
    with SmtpReceiver() as running:
        yield running


@pytest.fixture
def logged():
    """What reaches the daemon's log, from the finest level. (``caplog`` listens to silenced loggers too.)"""
    lines = []
    handler = logging.Handler()
    handler.emit = lambda record: lines.append(handler.format(record))
    root = logging.getLogger()
    level = root.level
    root.addHandler(handler)
    root.setLevel(1)
    yield lines
    root.removeHandler(handler)
    root.setLevel(level)


def told(receiver):
    return len(receiver.manners.arrivals)


async def latencies_s(calling, name, receiver, count=15):
    found = []
    for number in range(told(receiver) + 1, told(receiver) + count + 1):
        began_s = time.monotonic()
        calling.raise_alarm(name)
        await until(lambda number=number: told(receiver) >= number, 10)
        found.append(receiver.manners.arrivals[-1].at_s - began_s)
    return found


async def test_a_hanging_gateway_delays_no_other_person_and_not_the_loop(tmp_path, anna, ben, record_property):
    anna.manners.always(Manner.HANG)
    people = settings(person("anna", anna.url, limit_s=2.0), person("ben", ben.url))
    async with Calling(tmp_path, people) as calling:
        alone = await latencies_s(calling, "ben", ben)
        for _ in range(30):
            calling.raise_alarm("anna")
        await until(lambda: anna.manners.met[Manner.HANG])
        beside = await latencies_s(calling, "ben", ben)
        looked_up_s = time.monotonic()
        await asyncio.get_running_loop().getaddrinfo("localhost", 80, type=socket.SOCK_STREAM)
        looked_up_s = time.monotonic() - looked_up_s
    medians = statistics.median(alone), statistics.median(beside)
    record_property("counts", f"to ben, s: alone {medians[0]:.3f}, beside one who hangs {medians[1]:.3f}")
    assert max(beside) < 1.0
    assert looked_up_s < 0.5


async def test_what_a_gateway_missed_comes_when_it_is_back(tmp_path, anna):
    anna.close()
    async with Calling(tmp_path, settings(person("anna", anna.url))) as calling:
        raised = [calling.raise_alarm(collector=f"DC-{number}") for number in range(3)]
        await until(lambda: calling.reachable and not calling.reachable[-1][0])
        assert calling.outlet.figures().channels[0].last_error == "no connection"
        anna.open()
        bodies = await until(
            lambda: (
                (got := " ".join(one.body for one in anna.manners.arrivals))
                and all(one.tag in got for one in raised)
            ),
            10,
        )
        assert bodies
        await until(lambda: calling.reachable[-1] == (True, ""))


async def test_where_the_first_channel_hangs_the_second_is_tried(tmp_path, anna, mail):
    anna.manners.always(Manner.HANG)
    async with Calling(tmp_path, settings(person("anna", anna.url, mail.url, limit_s=0.3))) as calling:
        began_s = time.monotonic()
        calling.raise_alarm()
        await until(lambda: told(mail))
        assert time.monotonic() - began_s < 3.0


@pytest.mark.parametrize(
    ("refusal", "why"), [("451 4.3.0 later", "refused: 451"), ("554 5.7.1 never", "refused: 554")]
)
async def test_a_mail_server_that_refuses_is_tried_until_it_takes_it(tmp_path, mail, refusal, why):
    mail.refusal = refusal
    mail.manners.always(Manner.REFUSE)
    async with Calling(tmp_path, settings(person("anna", mail.url))) as calling:
        calling.raise_alarm()
        await until(lambda: calling.outlet.figures().channels[0].last_error == why)
        mail.manners.always(Manner.TAKE)
        await until(lambda: told(mail) == 1)


async def test_a_wrong_mail_password_is_a_failure_that_says_so(tmp_path, logged):
    with SmtpReceiver(login=("watch", "right")) as running:
        async with Calling(tmp_path, settings(person("anna", running.url_as("watch", SECRET)))) as calling:
            calling.raise_alarm()
            await until(lambda: calling.reachable[-1:] and not calling.reachable[-1][0])
            assert calling.outlet.figures().channels[0].last_error == "login refused: 535"
            assert told(running) == 0
    assert SECRET not in "\n".join(logged)
    assert_nothing_on_disk(tmp_path)


async def test_no_secret_in_log_or_journal_whatever_happens(tmp_path, anna, logged):
    async with Calling(tmp_path, settings(person("anna", anna.url, limit_s=0.2))) as calling:
        for number, manner in enumerate(Manner):
            anna.manners.always(manner)
            calling.raise_alarm(collector=f"DC-{number}")
            await until(lambda manner=manner: anna.manners.met[manner], 10)
        anna.close()
        calling.raise_alarm(collector="DC-9")
        await until(lambda: calling.outlet.figures().channels[0].last_error == "no connection", 10)
        assert SECRET not in str(calling.outlet.figures())
        assert SECRET not in str(calling.reachable)
        assert SECRET not in repr(calling.told)
    ours = "\n".join(logged)
    assert "phone failed" in ours
    assert SECRET not in ours
    assert str(anna.port) not in ours
    assert_nothing_on_disk(tmp_path)


def assert_nothing_on_disk(folder):
    files = [one for one in folder.rglob("*") if one.is_file()]
    assert files
    for one in files:
        assert SECRET.encode() not in one.read_bytes(), one


async def test_it_stops_within_a_second_while_real_gateways_hang(tmp_path, anna, mail):
    anna.manners.always(Manner.HANG)
    mail.manners.always(Manner.HANG)
    people = settings(person("anna", anna.url, limit_s=30), person("ben", mail.url, limit_s=30))
    async with Calling(tmp_path, people) as calling:
        calling.raise_alarm("anna")
        calling.raise_alarm("ben")
        await until(lambda: anna.manners.met[Manner.HANG] and mail.manners.met[Manner.HANG])
        began_s = time.monotonic()
        await calling.stop()
        assert time.monotonic() - began_s < 1.0
