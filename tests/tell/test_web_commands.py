"""Commands over HTTP, from the wire to the rulebook and back: what is taken, and what is turned away how."""

import asyncio
import http.client
import json
import socket
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from monitor.tell import web_access, web_body, web_commands, web_connection
from monitor.tell.command_fields import MOST_BYTES
from monitor.tell.settings import HttpSettings
from monitor.tell.web_commands import BURST, STATUS
from monitor.words import AnswerCode, CommandKind, Door
from tests.tell.served import ALARMS, ServedWeb

SCHEMA = json.loads((Path(__file__).parents[2] / "config" / "commands.schema.json").read_text(encoding="utf-8"))
ANSWER = Draft202012Validator(SCHEMA | {"anyOf": [{"$ref": "#/$defs/answer"}]})
TOKEN = "alder-mill-secret-1"
ACK = {"command_id": "a1", "command": "acknowledge", "tag": "PDAH-101", "by": "anna"}


def a_server() -> ServedWeb:
    return ServedWeb(HttpSettings(port=0, tokens={"anna": TOKEN}))


@pytest.fixture(scope="module")
def roomy():
    """A server through whose door all commands of these tests fit (ending one takes 0.2 s)."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(web_commands, "BURST", 10**9)
        served = a_server().__enter__()
    yield served
    served.__exit__()


@pytest.fixture
def web(roomy):
    roomy.rulebook.reset()
    return roomy


@pytest.fixture
def fresh():
    """A server of one's own, for tests that use up what it allows."""
    with a_server() as served:
        yield served


@pytest.fixture
def far(monkeypatch):
    """Every peer seems to be on another machine."""
    monkeypatch.setattr(web_access, "is_loopback", lambda _address: False)


def test_a_command_from_the_machine_itself_reaches_the_rulebook(web):
    status, answer = web.command(ACK)

    assert (status, answer["code"], answer["done"], answer["command_id"]) == (200, "done", True, "a1")
    command = web.rulebook.commands[0]
    assert (command.kind, command.tag, command.by) == (CommandKind.ACKNOWLEDGE, "PDAH-101", "anna")
    assert (command.door, command.proven, command.sent_utc_s) == (Door.HTTP, False, None)


def test_a_token_brings_its_person_from_anywhere(web, far):
    nameless = {key: ACK[key] for key in ACK if key != "by"}
    status, _ = web.command(nameless, {"Authorization": f"Bearer {TOKEN}", "Host": "cakewatch.example"})

    assert status == 200
    assert (web.rulebook.commands[0].by, web.rulebook.commands[0].proven) == ("anna", True)


def test_a_token_speaks_for_nobody_else(web):
    status, answer = web.command(ACK | {"by": "ben"}, {"Authorization": f"Bearer {TOKEN}"})

    assert (status, answer["code"]) == (403, "not_allowed")
    assert web.rulebook.commands == []


@pytest.mark.parametrize("code", AnswerCode)
def test_every_code_has_its_status_and_its_answer(web, code):
    web.rulebook.code = code
    status, answer = web.command(ACK)

    assert (status, answer["code"], answer["done"]) == (STATUS[code], code.value, code is AnswerCode.DONE)
    assert (status == 200) is (code is AnswerCode.DONE)


@pytest.mark.parametrize(
    ("headers", "status", "code"),
    [
        ({"Authorization": "Bearer guess"}, 401, "unknown_person"),
        ({"Authorization": "Basic YW5uYTp4"}, 401, "unknown_person"),
        ({"Host": "rebound.example:9464"}, 403, "not_allowed"),
        ({"Origin": "https://elsewhere.example"}, 403, "not_allowed"),
        ({"Origin": "null"}, 403, "not_allowed"),
        ({"Sec-Fetch-Site": "cross-site"}, 403, "not_allowed"),
        ({"X-Forwarded-For": "127.0.0.1"}, 401, "not_allowed"),
        ({"Content-Type": "text/plain"}, 415, "malformed"),
        ({"Content-Type": None}, 415, "malformed"),
        ({"Content-Type": "text/plain", "Authorization": f"Bearer {TOKEN}"}, 415, "malformed"),
    ],
)
def test_who_has_no_right_gets_a_sentence_and_nothing_is_done(web, headers, status, code):
    found, answer = web.command(ACK, headers)

    assert (found, answer["code"]) == (status, code)
    ANSWER.validate(answer)
    assert web.rulebook.commands == []


@pytest.mark.usefixtures("far")
@pytest.mark.parametrize("headers", [{}, {"X-Forwarded-For": "127.0.0.1"}, {"Forwarded": "for=127.0.0.1"}])
def test_from_another_machine_nothing_goes_without_a_token(web, headers):
    status, found, body = web.ask("POST", "/api/v1/commands", json.dumps(ACK).encode(), headers)

    assert (status, json.loads(body)["code"]) == (401, "not_allowed")
    assert found["www-authenticate"].startswith("Bearer")
    assert web.rulebook.commands == []


@pytest.mark.parametrize("path", ["/", "/metrics", "/health", "/api/v1/", "/api/v1/alarms"])
def test_what_is_only_read_takes_no_command(web, path):
    assert web.ask("POST", path, json.dumps(ACK).encode())[0] == 405
    assert web.rulebook.commands == []


@pytest.mark.parametrize("method", ["GET", "PUT", "DELETE", "OPTIONS", "PATCH"])
def test_commands_are_posted_and_no_page_elsewhere_is_given_leave(web, method):
    asks = {"Origin": "https://elsewhere.example", "Access-Control-Request-Method": "POST"}
    status, headers, _ = web.ask(method, "/api/v1/commands", headers=asks)

    assert status == 405
    assert not [name for name in headers if name.casefold().startswith("access-control")]


def test_no_request_is_sent_on_to_another_name(web):
    status, headers, _ = web.ask("POST", "/api/v1/commands/", b"{}", {"Host": "elsewhere.example"})

    assert status == 404
    assert "location" not in headers


def test_a_command_that_cannot_be_read_is_malformed(web):
    status, answer = web.command({"command": "ack"})

    assert (status, answer["code"]) == (400, "malformed")
    assert '"command" must be one of acknowledge' in answer["text"]


def test_what_is_too_large_is_refused_before_it_is_read(web):
    status, _, body = web.ask("POST", "/api/v1/commands", b" " * (MOST_BYTES + 1))

    assert (status, json.loads(body)["code"]) == (413, "malformed")


def test_what_grows_too_large_without_having_said_so_is_refused_too(web):
    with web.connect() as connection:
        connection.sendall(_head("Transfer-Encoding: chunked"))
        connection.sendall((b"400\r\n" + b" " * 0x400 + b"\r\n") * 5)
        status, answer = _answer_on(connection)

    assert (status, answer["code"]) == (413, "malformed")


def test_a_slow_body_is_ended_with_a_sentence(web, monkeypatch):
    monkeypatch.setattr(web_body, "BODY_LIMIT_S", 0.2)
    with web.connect() as connection:
        connection.sendall(_head("Content-Length: 100") + b'{"command_id":')
        answer = _all_of(connection)

    assert answer.startswith(b"HTTP/1.1 408 ")
    assert b"did not come whole" in answer


def test_who_has_no_right_is_not_waited_for(web):
    with web.connect() as connection:
        began = time.monotonic()
        connection.sendall(_head("Content-Length: 100", "Origin: https://elsewhere.example"))
        assert _answer_on(connection)[0] == 403
        assert time.monotonic() - began < 2.0


@pytest.mark.parametrize(
    ("header", "status"),
    [("Origin: null", 403), ("Authorization: Bearer guess", 401), ("Content-Length: 9999", 413)],
)
def test_who_is_refused_while_still_sending_is_not_cut_off_and_may_go_on(web, header, status):
    with web.connect() as connection:
        size = [] if "Length" in header else ["Content-Length: 9999"]
        connection.sendall(_head(header, *size))
        assert _answer_on(connection)[0] == status
        connection.sendall(b" " * 9999)
        body = json.dumps(ACK).encode()
        connection.sendall(_head(f"Content-Length: {len(body)}") + body)
        assert _answer_on(connection)[0] == 200


def test_who_never_comes_to_an_end_is_cut_off(web, monkeypatch):
    monkeypatch.setattr(web_connection, "REQUEST_LIMIT_S", 0.3)
    with web.connect() as connection:
        connection.sendall(_head("Transfer-Encoding: chunked", "Origin: null"))
        assert _answer_on(connection)[0] == 403
        connection.sendall(b"5\r\nhello\r\n")
        began = time.monotonic()
        assert _all_of(connection) == b""
        assert time.monotonic() - began < 3.0


def test_who_leaves_in_the_middle_harms_nobody(web):
    for _ in range(3):
        with web.connect() as connection:
            connection.sendall(_head("Content-Length: 100") + b"{")

    assert web.command(ACK)[0] == 200


def test_a_flood_is_held_up_at_the_door(fresh):
    statuses = [fresh.command(ACK | {"command_id": f"a{number}"})[0] for number in range(2 * BURST)]

    assert statuses[:BURST] == [200] * BURST
    assert statuses.count(429) >= BURST - 5  # some may have been filled up meanwhile
    assert len(fresh.rulebook.commands) == statuses.count(200)
    _, headers, body = fresh.ask("POST", "/api/v1/commands", json.dumps(ACK).encode())
    assert (headers["retry-after"], json.loads(body)["code"]) == ("1", "too_many")


def test_guessing_tokens_is_held_up_and_the_machine_itself_is_not_known_by_it(fresh):
    guesses = [fresh.command(ACK, {"Authorization": f"Bearer guess{number}"})[0] for number in range(12)]

    assert guesses == [401] * 10 + [429] * 2
    assert fresh.command(ACK, {"Authorization": f"Bearer {TOKEN}"})[0] == 429
    assert fresh.command(ACK)[0] == 200


def test_what_the_journal_does_not_confirm_is_not_written(web, monkeypatch):
    monkeypatch.setattr(web_commands, "SUBMIT_LIMIT_S", 0.1)
    web.rulebook.before = lambda: asyncio.sleep(30)
    status, answer = web.command(ACK)

    assert (status, answer["code"], answer["command_id"], answer["tag"]) == (503, "not_written", "a1", "PDAH-101")


def test_a_fault_of_our_own_is_an_answer_and_a_line_in_the_log(web, caplog):
    async def fail():
        raise RuntimeError("the rulebook tore")

    web.rulebook.before = fail
    status, answer = web.command(ACK)

    assert (status, answer["code"]) == (503, "not_written")
    assert "tore" not in answer["text"]
    assert "the rulebook tore" in caplog.text


def test_who_is_turned_away_is_logged_but_not_without_end(fresh, caplog):
    for _ in range(30):
        fresh.command(ACK, {"Origin": "https://elsewhere.example"})

    lines = [record for record in caplog.records if "turned away" in record.getMessage()]
    assert 10 <= len(lines) <= 15


def test_the_alarms_are_listed_as_asked_for(web):
    _, headers, body = web.ask("GET", "/api/v1/alarms")
    held = json.loads(web.ask("GET", "/api/v1/alarms?held=yes")[2])["alarms"]
    two = json.loads(web.ask("GET", "/api/v1/alarms?state=normal&state=shelved")[2])["alarms"]

    assert (headers["content-type"], json.loads(body)) == ("application/json", {"alarms": ALARMS})
    assert [one["tag"] for one in held] == ["PDAH-102"]
    assert [one["tag"] for one in two] == ["PDAH-102", "PDAH-103"]


@pytest.mark.parametrize("query", ["state=loud", "held=1", "tag=x", "state", "%ff=%00"])
def test_a_query_that_means_nothing_is_400_with_a_sentence(web, query):
    status, _, body = web.ask("GET", f"/api/v1/alarms?{query}")

    assert status == 400
    assert json.loads(body)["error"]


def test_a_server_without_a_rulebook_takes_no_command():
    with ServedWeb(HttpSettings(port=0), takes_commands=False) as silent:
        assert silent.ask("POST", "/api/v1/commands", json.dumps(ACK).encode())[0] == 404
        assert silent.ask("GET", "/api/v1/alarms")[0] == 200


def test_the_way_from_the_alarms_to_the_wire_is_walked_beside_the_loop():
    """A large site's list is built while it is gone through, in the thread that writes it."""

    def slowly():
        yield ALARMS[0]
        time.sleep(0.5)
        yield ALARMS[1]

    with ServedWeb(HttpSettings(port=0), alarms=slowly) as web, web.connect() as connection:
        connection.sendall(b"GET /api/v1/alarms HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
        time.sleep(0.1)
        began = time.monotonic()
        assert web.ask("GET", "/health")[0] == 200
        assert time.monotonic() - began < 0.3
        assert b"PDAH-102" in _all_of(connection)


HEADER_TEXT = st.text(
    st.characters(min_codepoint=0x21, max_codepoint=0xFF, exclude_categories=["Cc"]), max_size=30
)
BODIES = st.binary(max_size=300) | st.dictionaries(
    st.sampled_from([*ACK, "for", "reason", "sent_at", "x"]),
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20) | st.just([]) | st.just({}),
).map(lambda change: json.dumps(ACK | change).encode())


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    BODIES,
    st.dictionaries(
        st.sampled_from(["Host", "Origin", "Authorization", "Content-Type", "Sec-Fetch-Site", "Accept", "Cookie"]),
        st.sampled_from(["localhost", "application/json", f"Bearer {TOKEN}", "null"]) | HEADER_TEXT,
    ),
)
def test_whatever_is_posted_is_answered_and_never_by_500(roomy, body, headers):
    before = len(roomy.rulebook.commands)
    encoded = {name: value.encode("latin-1") for name, value in headers.items()}
    status, _, answer = roomy.ask("POST", "/api/v1/commands", body, encoded)

    assert status in {200, 400, 401, 403, 415, 429}
    if status == 400 and not answer.startswith(b"{"):
        assert answer == b"Invalid HTTP request received."
    else:
        ANSWER.validate(json.loads(answer))
    assert (len(roomy.rulebook.commands) > before) is (status == 200)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.binary(max_size=200), st.text(st.characters(min_codepoint=0x21, max_codepoint=0x7E), max_size=40))
def test_whatever_stands_on_the_wire_the_server_lives_on(roomy, noise, target):
    with roomy.connect() as connection:
        connection.sendall(
            b"GET /api/v1/" + target.encode() + b" HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
        )
        assert not _all_of(connection).startswith(b"HTTP/1.1 5")
    with roomy.connect() as connection:
        connection.sendall(noise + b"\r\n\r\n")
        connection.shutdown(socket.SHUT_WR)
        assert not _all_of(connection).startswith(b"HTTP/1.1 5")


def _head(*headers: str) -> bytes:
    lines = ["POST /api/v1/commands HTTP/1.1", "Host: localhost", "Content-Type: application/json", *headers]
    return "\r\n".join([*lines, "", ""]).encode()


def _answer_on(connection: socket.socket) -> tuple[int, dict[str, object]]:
    response = http.client.HTTPResponse(connection)
    response.begin()
    return response.status, json.loads(response.read())


def _all_of(connection: socket.socket) -> bytes:
    answer = b""
    try:
        while piece := connection.recv(4096):
            answer += piece
    except ConnectionResetError:
        pass
    return answer
