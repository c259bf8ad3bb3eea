"""What a tap on the link in a message does: once, by its person, for its message's alarms and nothing else."""

import asyncio
import base64
import hashlib
import re
import threading

import pytest

from monitor.words import AnswerCode, CommandKind, Door
from tests.tell.visiting import ELSEWHERE, NOW_UTC_S, PUBLIC, STANDING, Mill

ONE = (("PDAH-101", STANDING["PDAH-101"]),)
BOTH = (*ONE, ("PDAH-102", STANDING["PDAH-102"]))


@pytest.fixture(scope="module")
def running():
    with Mill() as served:
        yield served


@pytest.fixture
def mill(running):
    running.rulebook.reset()
    running.clock.utc_s = NOW_UTC_S
    running.server._doors[0].acks._guesses.__init__()
    running.links._links.clear()
    return running


def link(mill, alarms=BOTH, person="anna") -> str:
    return mill.call(lambda: mill.links.make(person, alarms, mill.clock.utc_s)).removeprefix(PUBLIC)


def tap(mill, path, method="POST", headers=ELSEWHERE):
    status, _, body = mill.ask(method, path, None, {"Content-Type": None, **headers})
    return status, body.decode()


def test_the_button_acknowledges_what_the_message_was_about(mill):
    status, page = tap(mill, link(mill))

    assert status == 200
    assert [(one.kind, one.tag, one.by, one.proven, one.door) for one in mill.rulebook.commands] == [
        (CommandKind.ACKNOWLEDGE, tag, "anna", True, Door.HTTP) for tag, _ in BOTH
    ]
    assert "PDAH-101 done, anna" in page
    assert "PDAH-102 done, anna" in page


@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_opening_the_link_changes_nothing_however_often(mill, method):
    path = link(mill)
    pages = [tap(mill, path, method) for _ in range(3)]

    assert {status for status, _ in pages} == {200}
    assert mill.rulebook.commands == []
    if method == "GET":
        assert len(re.findall(r"<button", pages[0][1])) == 1
        assert '<form method="post">' in pages[0][1]
        assert "Acknowledge as anna?" in pages[0][1]
        assert "PDAH-101" in pages[0][1]


def test_the_page_loads_nothing_runs_nothing_and_says_who_sent_nobody(mill):
    _, headers, body = mill.ask("GET", link(mill), None, ELSEWHERE)
    policy = headers["content-security-policy"]
    style = re.search(rb"<style>(.*?)</style>", body).group(1)

    assert f"'sha256-{base64.b64encode(hashlib.sha256(style).digest()).decode()}'" in policy
    assert "default-src 'none'" in policy
    assert "script" not in policy
    assert b"<script" not in body
    assert (headers["referrer-policy"], headers["cache-control"]) == ("no-referrer", "no-store")


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_used_link_is_gone_and_says_by_whom(mill, method):
    path = link(mill)
    tap(mill, path)
    done = len(mill.rulebook.commands)

    status, page = tap(mill, path, method)
    assert status == 410
    assert "used at 02:14 by anna" in page
    assert len(mill.rulebook.commands) == done


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_an_expired_link_does_nothing(mill, method):
    path = link(mill)
    mill.clock.utc_s += 3600.0

    status, page = tap(mill, path, method)
    assert (status, mill.rulebook.commands) == (410, [])
    assert "expired" in page


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_link_that_was_tampered_with_is_not_known(mill, method):
    path = link(mill)
    other = "A" if path[-1] != "A" else "B"
    wrong = [
        path[:-1] + other,
        path + "A",
        path[:-1],
        "/ack/" + path[5:].swapcase(),
        "/ack/" + "A" * 22,
        "/ack/%00",
        "/ack/%ff",
    ]
    pages = [tap(mill, one, method) for one in wrong]

    assert {status for status, _ in pages} == {404}
    assert len({page for _, page in pages}) == 1
    assert mill.rulebook.commands == []


def test_guessing_is_held_up_and_a_good_link_from_there_still_works(mill):
    path = link(mill)
    statuses = [tap(mill, f"/ack/{number:022}")[0] for number in range(12)]

    assert statuses == [404] * 10 + [429] * 2
    assert tap(mill, path)[0] == 200


def test_an_alarm_that_came_up_anew_or_has_ended_is_not_acknowledged(mill):
    status, page = tap(mill, link(mill, (*ONE, ("PDAH-102", "PDAH-102@1"), ("PDAH-103", "PDAH-103@3"))))

    assert status == 200
    assert [one.tag for one in mill.rulebook.commands] == ["PDAH-101"]
    assert "came up anew" in page
    assert "it has ended" in page


def test_a_person_who_may_not_any_more_reads_why(mill):
    mill.rulebook.code = AnswerCode.NOT_ALLOWED
    status, page = tap(mill, link(mill, ONE, "lena"))

    assert status == 403
    assert "PDAH-101 not_allowed, lena" in page


def test_what_the_journal_did_not_take_leaves_the_link_good_and_is_not_done_twice(mill):
    path = link(mill)
    mill.rulebook.code = AnswerCode.NOT_WRITTEN
    assert tap(mill, path)[0] == 503
    mill.rulebook.code = AnswerCode.DONE
    assert tap(mill, path)[0] == 200

    ids = [one.command_id for one in mill.rulebook.commands]
    assert ids[:2] == ids[2:]
    assert len(set(ids)) == 2


def test_two_taps_of_one_thumb_are_one(mill):
    path, statuses = link(mill, ONE), []
    mill.rulebook.before = lambda: asyncio.sleep(0.2)
    taps = [threading.Thread(target=lambda: statuses.append(tap(mill, path)[0])) for _ in range(3)]
    for one in taps:
        one.start()
    for one in taps:
        one.join()

    assert statuses == [200, 200, 200]
    assert len(mill.rulebook.commands) == 1


def test_whoever_goes_away_in_the_middle_has_tapped_all_the_same(mill):
    path = link(mill)
    mill.rulebook.before = lambda: asyncio.sleep(0.1)
    with mill.connect() as connection:
        connection.sendall(f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Length: 0\r\n\r\n".encode())
    mill.rulebook.before = None
    while tap(mill, path, "GET")[0] != 410:
        pass

    assert len(mill.rulebook.commands) == 2


def test_a_link_opens_nothing_else(mill):
    path = link(mill)
    token = path.rpartition("/")[2]
    for headers in (
        {"Authorization": f"Bearer {token}"},
        {"Cookie": f"__Host-cakewatch={token}"},
        {"X-Cakewatch-Token": token},
    ):
        assert mill.ask("GET", "/api/v1/alarms", None, ELSEWHERE | headers)[0] == 401


def test_no_link_is_written_to_the_log(mill, caplog):
    path = link(mill)
    for method in ("GET", "POST", "POST", "PUT"):
        tap(mill, path, method)

    assert path.rpartition("/")[2] not in caplog.text
