"""Gateway: against real servers on loopback that refuse, hang, break off and lie."""

import logging
import subprocess
import sys
import time

import pytest

from monitor.tell.phone import gateway
from monitor.tell.phone.reasons import UNKNOWN, reason
from monitor.tell.phone.settings import Channel
from monitor.tell.phone.wording_context import Text
from tests.peers.http_receiver import HttpReceiver
from tests.peers.manners import Manner
from tests.peers.smtp_receiver import SmtpReceiver

TEXT = Text("DC-101: high DP <PDAH-101>", "7.2 inH2O < 8 & rising\n*not* _markdown_ :smile: \\n #1")
SECRET = "s3cretPath"


def channel(url, limit_s=5.0):
    return Channel(name="push", url=url, limit_s=limit_s)


@pytest.fixture
def http():
    with HttpReceiver(path=SECRET) as running:
        yield running


@pytest.fixture
def smtp():
    with SmtpReceiver() as running:
        yield running


@pytest.fixture
def logged():
    """Everything that any logger passes on to the root, from the finest level."""
    lines = []
    handler = logging.Handler()
    handler.emit = lambda record: lines.append(record.getMessage())
    root = logging.getLogger()
    level = root.level
    root.addHandler(handler)
    root.setLevel(1)
    yield lines
    root.removeHandler(handler)
    root.setLevel(level)


def test_a_text_arrives_as_it_was_written(http):
    assert gateway.send(channel(http.url), TEXT).delivered
    assert [(one.title, one.body) for one in http.manners.arrivals] == [tuple(TEXT)]


def test_a_text_arrives_by_mail_as_it_was_written(smtp):
    assert gateway.send(channel(smtp.url), TEXT).delivered
    (mail,) = smtp.manners.arrivals
    assert (mail.title, mail.body.replace("\r\n", "\n").rstrip("\n")) == tuple(TEXT)


def test_a_text_without_a_body_is_not_refused(http):
    assert gateway.send(channel(http.url), Text("all is well", "")).delivered
    assert gateway.send(channel(http.url), Text("", "PDAH-101")).delivered


@pytest.mark.parametrize(
    ("manner", "why"),
    [
        (Manner.REFUSE, "refused: 500"),
        (Manner.HANG, "timed out after 0.5 s"),
        (Manner.DROP, "connection lost"),
        (Manner.LOSE_ANSWER, "connection lost"),
    ],
)
def test_a_failure_of_http_is_a_short_phrase(http, manner, why):
    gateway.load()
    http.manners.always(manner)
    sent = gateway.send(channel(http.url, 0.5), TEXT)
    assert not sent.delivered
    # A connection that is reset in the same moment may not have come about at all.
    assert sent.why in ((why, "no connection") if manner is Manner.DROP else (why,))
    assert sent.took_s < 1.0


@pytest.mark.parametrize(
    ("manner", "why"),
    [
        (Manner.REFUSE, "refused: 451"),
        (Manner.HANG, "timed out after 0.5 s"),
        (Manner.DROP, "connection lost"),
        (Manner.LOSE_ANSWER, "connection lost"),
    ],
)
def test_a_failure_of_mail_is_a_short_phrase(smtp, manner, why):
    gateway.load()
    smtp.manners.always(manner)
    sent = gateway.send(channel(smtp.url, 0.5), TEXT)
    assert (sent.delivered, sent.why) == (False, why)
    assert sent.took_s < 1.5


def test_a_mail_refused_for_good_says_so(smtp):
    smtp.refusal = "550 5.7.1 nobody of that name"
    smtp.manners.always(Manner.REFUSE)
    assert gateway.send(channel(smtp.url), TEXT).why == "refused: 550"


def test_a_wrong_mail_password_is_named_and_not_shown(logged):
    with SmtpReceiver(login=("watch", "right")) as running:
        assert gateway.send(channel(running.url), TEXT).delivered
        sent = gateway.send(channel(running.url_as("watch", "wr0ng")), TEXT)
    assert sent.why == "login refused: 535"
    assert not any("wr0ng" in line for line in logged)


def test_nobody_listening_is_no_connection(http):
    http.close()
    assert gateway.send(channel(http.url), TEXT).why == "no connection"


def test_a_redirect_is_a_failure_since_the_message_would_be_lost_on_the_way(http):
    http.answers[Manner.REFUSE] = (
        b"HTTP/1.1 302 Found\r\nLocation: /\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"
    )
    http.manners.always(Manner.REFUSE)
    assert gateway.send(channel(http.url), TEXT).why == "refused: 302"


@pytest.mark.parametrize("manner", list(Manner))
def test_no_log_and_no_outcome_shows_the_address_or_the_message(http, logged, manner):
    http.manners.always(manner)
    sent = gateway.send(channel(http.url, 0.3), TEXT)
    http.close()
    gone = gateway.send(channel(http.url, 0.3), TEXT)
    for said in (*logged, sent.why, gone.why):
        assert SECRET not in said
        assert "inH2O" not in said
        assert str(http.port) not in said


def test_an_address_that_is_none_is_found_without_showing_it():
    assert "begin with the name of a service" in gateway.channel_fault(SECRET)
    assert "knows no service" in gateway.channel_fault(f"{SECRET}://mill.example")
    assert "tgram://" in gateway.channel_fault(f"tgram://{SECRET}")
    for url in (SECRET, f"{SECRET}://mill.example", f"tgram://{SECRET}", f"mailto://{SECRET}"):
        assert SECRET not in gateway.channel_fault(url)
    assert gateway.channel_fault(f"jsons://mill.example/{SECRET}") == ""


def test_an_address_that_cannot_be_used_fails_the_message_and_raises_nothing():
    sent = gateway.send(channel(f"nothing://{SECRET}"), TEXT)
    assert (sent.delivered, sent.why) == (False, "its address cannot be used")


def test_a_missing_library_says_how_to_get_it(monkeypatch):
    monkeypatch.setattr(gateway, "find_spec", lambda name: None)
    assert "cakewatch[phone]" in gateway.channel_fault("json://mill.example")
    assert "cakewatch[phone]" in gateway.send(channel("json://mill.example"), TEXT).why


def test_the_library_is_not_loaded_before_it_is_needed():
    code = "import sys, monitor.tell.phone.outlet; print('apprise' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=30)
    assert found.stdout.strip() == "False", found.stderr


def test_what_a_message_says_cannot_pass_for_an_answer():
    log = ["JSON Payload: {'message': 'error=999 secret'}", "Loaded URL: x://error=401", "Sent: error=12 secret"]
    assert reason(log, 1.0) == UNKNOWN


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("Failed to send: Unauthorized, error=401.", "login refused: 401"),
        ("SMTP recipient a@mill.example was refused: 550 b'no'", "refused: 550"),
        ("Socket Exception: {'a@mill.example': (452, b'full')}", "refused: 452"),
        ("Socket Exception: HTTPSConnectionPool: certificate verify failed", "its certificate is not trusted"),
        ("Socket Exception: [Errno -2] Name or service not known", "its name cannot be resolved"),
        ("Socket Exception: [Errno 113] No route to host", "no connection"),
        ("Socket Exception: (read timeout=3.8)", "timed out after 4 s"),
    ],
)
def test_what_the_library_logs_becomes_one_of_our_phrases(line, why):
    assert reason([line], 4.0) == why


def test_a_hundred_messages_need_no_pause_between_them(http):
    gateway.load()
    began_s = time.monotonic()
    for _ in range(100):
        assert gateway.send(channel(http.url), TEXT).delivered
    assert time.monotonic() - began_s < 5.0
