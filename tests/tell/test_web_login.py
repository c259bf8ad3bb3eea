"""Logging in and out: constant answers, guesses held up, and nobody locks the real person out."""

import json
import statistics
import subprocess
import sys
import threading
import time

import pytest

from monitor.tell import web_login, web_passwords
from monitor.tell.settings import HttpSettings
from monitor.tell.web_passwords import MOST_WAITING, Passwords, hash_password, is_hash
from monitor.tell.web_places import GUESSES
from monitor.words import CommandKind
from tests.tell.served import ServedWeb
from tests.tell.visiting import COOKIE, ELSEWHERE, HASHES, PASSWORD, PUBLIC, TOKENS, Mill

RIGHT = {"person": "anna", "password": PASSWORD}
WRONG = {"person": "anna", "password": "guess"}


@pytest.fixture(scope="module")
def running():
    with Mill() as served:
        yield served


@pytest.fixture
def mill(running):
    """As it is after the start: nobody has logged in, and nothing was guessed."""
    running.rulebook.reset()
    door = running.server._doors[0]
    running.call(door.sessions._sessions.clear)
    for guesses in (door.logins._by_place, door.logins._by_name, door.access._guesses):
        guesses._places.clear()
    return running


def log_in(mill, body=RIGHT, headers=ELSEWHERE):
    given = body if isinstance(body, bytes) else json.dumps(body).encode()
    status, found, answer = mill.ask("POST", "/api/v1/login", given, headers)
    return status, found, json.loads(answer)


def me(mill, headers):
    return json.loads(mill.ask("GET", "/api/v1/me", None, headers)[2])


def from_place(number: int) -> dict[str, str]:
    return ELSEWHERE | {"X-Forwarded-For": f"198.51.100.{number}"}


def test_a_login_opens_what_its_person_may_and_logging_out_closes_it(mill):
    assert mill.ask("GET", "/api/v1/alarms", None, ELSEWHERE)[0] == 401
    status, headers, answer = log_in(mill)
    assert (status, answer["person"], answer["may"]) == (200, "anna", [kind.value for kind in CommandKind])
    session = ELSEWHERE | {
        "Cookie": headers["set-cookie"].partition(";")[0],
        "X-Cakewatch-Token": answer["csrf"],
    }
    assert mill.ask("GET", "/api/v1/alarms", None, session)[0] == 200
    assert mill.command({"command_id": "a1", "command": "silence"}, session)[0] == 200
    assert (mill.rulebook.commands[0].by, mill.rulebook.commands[0].proven) == ("anna", True)
    assert mill.ask("POST", "/api/v1/logout", None, session)[0] == 204
    assert mill.ask("GET", "/api/v1/alarms", None, session)[0] == 401


def test_the_cookie_is_kept_from_scripts_from_other_sites_and_from_the_open_wire(mill):
    parts = log_in(mill)[1]["set-cookie"].split("; ")

    assert parts[0].startswith(f"{COOKIE}=")
    assert {"HttpOnly", "SameSite=Strict", "Secure", "Path=/"} <= set(parts)
    assert not [part for part in parts if part.startswith("Domain")]


def test_without_tls_anywhere_the_cookie_goes_without_secure():
    with Mill(settings={"public_address": ""}) as mill:
        cookie = log_in(mill, headers={"X-Forwarded-For": "192.0.2.7"})[1]["set-cookie"]

    assert cookie.startswith("cakewatch=")
    assert "Secure" not in cookie


@pytest.mark.parametrize(
    ("headers", "told"),
    [
        ({}, ("", "machine", ["acknowledge"], False)),
        (ELSEWHERE, ("", "nobody", [], True)),
        (ELSEWHERE | {"Authorization": f"Bearer {TOKENS['lena']}"}, ("lena", "token", [], False)),
        (ELSEWHERE | {"Authorization": "Bearer guess"}, ("", "nobody", [], True)),
    ],
)
def test_everybody_learns_who_he_is(mill, headers, told):
    found = me(mill, headers)

    assert (found["person"], found["how"], found["may"], found["login_needed"]) == told
    assert (found["can_login"], found["csrf"]) == (True, None)


def test_a_session_learns_its_token_and_nobody_elses(mill):
    anna, lena = mill.log_in("anna"), mill.log_in("lena")

    assert me(mill, anna)["csrf"] == anna["X-Cakewatch-Token"] != lena["X-Cakewatch-Token"]
    assert me(mill, anna)["how"] == "session"


def test_a_wrong_password_and_an_unknown_name_are_told_apart_by_nothing_in_the_answer(mill):
    answers = [log_in(mill, WRONG), log_in(mill, {"person": "nobody", "password": PASSWORD})]
    for _, headers, _ in answers:
        headers.pop("date")

    assert answers[0] == answers[1]
    assert (answers[0][0], answers[0][2]) == (401, {"error": "wrong name or password"})


def test_a_wrong_password_and_an_unknown_name_take_equally_long(mill):
    def took_s(body, number):
        began = time.perf_counter()
        assert log_in(mill, body, from_place(number))[0] == 401
        return time.perf_counter() - began

    log_in(mill)
    known = statistics.median(took_s(WRONG, number) for number in range(9))
    unknown = statistics.median(
        took_s({"person": "nobody", "password": "guess"}, 9 + number) for number in range(9)
    )

    assert 0.5 < known / unknown < 2.0
    assert known > 0.005


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Content-Type": "text/plain"}, 415),
        ({"Content-Type": None}, 415),
        ({"Origin": "https://elsewhere.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Host": "rebound.example", "Origin": "http://rebound.example"}, 403),
        ({"Origin": PUBLIC, "Sec-Fetch-Site": "same-origin"}, 200),
    ],
)
def test_only_our_own_page_logs_anybody_in(mill, headers, status):
    found, answer, _ = log_in(mill, RIGHT, ELSEWHERE | headers)

    assert found == status
    assert ("set-cookie" in answer) is (status == 200)


def test_no_password_is_taken_over_the_open_wire_where_there_is_another_way(mill, monkeypatch):
    monkeypatch.setattr(web_login, "is_loopback", lambda _address: False)
    status, _, answer = log_in(mill, RIGHT, {"Host": "dp.alder-mill.example"})

    assert status == 403
    assert "begins with https" in answer["error"]
    assert log_in(mill, RIGHT, ELSEWHERE)[0] == 200


def test_a_name_that_nobody_told_us_of_is_named_as_the_reason(mill):
    status, _, answer = log_in(mill, RIGHT, ELSEWHERE | {"Host": "mill-box:9464"})

    assert status == 403
    assert "http.public_address" in answer["error"]


@pytest.mark.parametrize(
    "body",
    [b"", b"{}", b"[]", b"null", b"{", b"\xff", b"[" * 2000, b'{"person":1,"password":"x"}']
    + [json.dumps(RIGHT | more).encode() for more in ({"x": 1}, {"person": "x" * 65}, {"password": "x" * 257})],
)
def test_what_is_no_login_is_refused(mill, body):
    assert log_in(mill, body)[0] == 400


def test_a_large_login_is_refused_before_it_is_read(mill):
    assert log_in(mill, b" " * 5000)[0] == 413


def test_guessing_from_one_place_is_held_up_and_nobody_elsewhere_is(mill):
    statuses = [log_in(mill, WRONG, from_place(1))[0] for _ in range(GUESSES + 2)]

    assert statuses == [401] * GUESSES + [429] * 2
    assert log_in(mill, RIGHT, from_place(1))[0] == 429
    assert log_in(mill, RIGHT, from_place(2))[0] == 200
    assert log_in(mill, RIGHT, {})[0] == 200


def test_right_logins_cost_nothing(mill):
    assert {log_in(mill)[0] for _ in range(GUESSES + 5)} == {200}


def test_guessing_one_name_from_everywhere_is_held_up_but_not_where_that_person_is_at_home(mill, monkeypatch):
    log_in(mill, RIGHT, from_place(200))
    for number in range(web_login.GUESSES_OF_ONE):
        assert log_in(mill, WRONG, from_place(number))[0] == 401

    assert log_in(mill, RIGHT, from_place(201))[0] == 429
    assert log_in(mill, RIGHT, from_place(200))[0] == 200
    assert log_in(mill, RIGHT, {})[0] == 200
    assert log_in(mill, {"person": "lena", "password": PASSWORD}, from_place(201))[0] == 200


def test_a_flood_of_made_up_names_holds_up_no_real_one(mill, monkeypatch):
    monkeypatch.setattr(Passwords, "is_right", lambda *_: _no())
    for number in range(400):
        log_in(mill, {"person": f"nobody {number}", "password": "x"}, from_place(number % 250))
    monkeypatch.undo()

    assert log_in(mill, RIGHT, from_place(251))[0] == 200


async def _no() -> bool:
    return False


def test_a_crowd_at_the_login_is_turned_away_and_the_watch_goes_on(mill, monkeypatch):
    release = threading.Event()
    monkeypatch.setattr(web_passwords, "_matches", lambda *_: release.wait(10.0))
    statuses = []
    crowd = [
        threading.Thread(target=lambda number=number: statuses.append(log_in(mill, WRONG, from_place(number))[0]))
        for number in range(MOST_WAITING + 4)
    ]
    for one in crowd:
        one.start()
    while len(statuses) < 4:
        time.sleep(0.01)
    assert mill.ask("GET", "/health")[0] == 200
    release.set()
    for one in crowd:
        one.join()

    assert sorted(statuses) == [200] * MOST_WAITING + [429] * 4


def test_where_nobody_has_a_password_it_is_said():
    with ServedWeb(HttpSettings(port=0)) as silent:
        assert me(silent, {})["can_login"] is False
        status, _, answer = log_in(silent, RIGHT, {})

    assert status == 403
    assert "no person a password" in answer["error"]


def test_a_new_login_ends_the_session_that_the_browser_had(mill):
    old = mill.log_in()
    log_in(mill, RIGHT, ELSEWHERE | {"Cookie": old["Cookie"]})

    assert mill.ask("GET", "/api/v1/alarms", None, old)[0] == 401


def test_a_session_survives_the_server():
    with Mill() as before:
        session = before.log_in()
    with Mill(sessions=before.sessions[-1]) as after:
        assert after.ask("GET", "/api/v1/alarms", None, session)[0] == 200
    with Mill(sessions=before.sessions[-1], settings={"password_hashes": {"lena": HASHES["lena"]}}) as without:
        assert without.ask("GET", "/api/v1/alarms", None, session)[0] == 401


def test_a_hash_is_no_password_and_no_two_are_alike():
    one, other = hash_password(PASSWORD), hash_password(PASSWORD)

    assert one != other
    assert PASSWORD not in one
    assert one.startswith("$argon2id$v=19$m=19456,t=2,p=1$")
    assert is_hash(one)
    assert not is_hash(PASSWORD)


@pytest.mark.parametrize("text", ["", "short", "x" * 257])
def test_a_password_that_is_none_is_a_sentence(text):
    with pytest.raises(ValueError, match="has 10 to 256 characters"):
        hash_password(text)


def test_a_hash_that_is_none_lets_nobody_in():
    with Mill(settings={"password_hashes": {"anna": "plain text"}}) as mill:
        assert log_in(mill, {"person": "anna", "password": "plain text"})[0] == 401


def test_the_library_is_loaded_only_when_somebody_logs_in():
    code = "import sys, monitor.tell.web; sys.exit('argon2' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], timeout=30).returncode == 0
