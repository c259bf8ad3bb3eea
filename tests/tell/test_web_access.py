"""Who may bring commands to the HTTP address: the machine itself, and whoever has a person's token."""

import pytest

from monitor.tell.web_access import Access, Asked, is_json
from monitor.tell.web_names import Names
from monitor.tell.web_places import GUESS_EVERY_S, GUESSES, MOST_PLACES, Guesses, is_loopback, place
from monitor.tell.web_sessions import Sessions
from monitor.tell.web_table import How, Right, Visitor
from monitor.words import AnswerCode

TOKENS = {"anna": "alder-mill-secret-1", "ben": "alder-mill-secret-2"}
FAR = "192.0.2.7"
HERE = {"host": "127.0.0.1:9464"}


def headers(given: dict[str, str | list[str]]):
    def all_of(name: str) -> list[str]:
        value = given.get(name, [])
        return [value] if isinstance(value, str) else value

    return all_of


def an_access(tokens=TOKENS, names=("127.0.0.1",), public=""):
    return Access(tokens, Names(names, public), Sessions({}, 60.0), "cakewatch")


def judge(given, peer="127.0.0.1", access=None, now_s=0.0):
    asked = Asked(peer=peer, headers=headers(given), now_s=now_s)
    return (access or an_access()).judge(Right.OPERATE, asked)


def bearer(token: str) -> dict[str, str]:
    return {"authorization": f"Bearer {token}"}


@pytest.mark.parametrize("peer", ["127.0.0.1", "127.8.9.1", "::1", "::ffff:127.0.0.1"])
@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:9464", "localhost:8080", "LocalHost", "[::1]:9464"])
def test_the_machine_itself_needs_no_token_and_proves_nobody(peer, host):
    assert judge({"host": host}, peer) == Visitor(how=How.MACHINE)


@pytest.mark.parametrize("peer", [FAR, "2001:db8::7", "10.0.0.1", "::ffff:192.0.2.7", "", None, "localhost"])
def test_from_elsewhere_nothing_goes_without_a_token(peer):
    refusal = judge(HERE, peer)

    assert (refusal.status, refusal.code) == (401, AnswerCode.NOT_ALLOWED)
    assert refusal.headers["WWW-Authenticate"].startswith("Bearer")


@pytest.mark.parametrize("peer", [FAR, "127.0.0.1", None])
@pytest.mark.parametrize(
    "extra", [{}, {"host": "rebound.example"}, {"origin": "https://elsewhere.example"}, {"x-forwarded-for": FAR}]
)
def test_a_token_proves_its_person_from_anywhere(peer, extra):
    assert judge(bearer(TOKENS["ben"]) | extra, peer) == Visitor(person="ben", how=How.TOKEN)


@pytest.mark.parametrize(
    "shown",
    [
        "Bearer alder-mill-secret-3",
        "Bearer alder-mill-secret-",
        "Bearer alder-mill-secret-11",
        "Bearer ALDER-MILL-SECRET-1",
        "Bearer anna",
        "Bearer ",
        "Bearer",
        "",
        "Basic YW5uYTphbGRlci1taWxsLXNlY3JldC0x",
        "alder-mill-secret-1",
        "Bearer \udcff\xe9",
        ["Bearer alder-mill-secret-1", "Bearer alder-mill-secret-2"],
    ],
)
@pytest.mark.parametrize("peer", [FAR, "127.0.0.1"])
def test_a_wrong_token_is_no_right_not_even_on_the_machine_itself(shown, peer):
    refusal = judge(HERE | {"authorization": shown}, peer)

    assert (refusal.status, refusal.code) == (401, AnswerCode.UNKNOWN_PERSON)
    assert "secret-1" not in refusal.text


def test_an_empty_token_in_the_settings_opens_nothing():
    access = an_access({"anna": ""})

    assert judge(bearer(""), FAR, access).status == 401
    assert judge({"authorization": "Bearer  "}, FAR, access).status == 401


@pytest.mark.parametrize(
    "host",
    [
        "rebound.example",
        "rebound.example:9464",
        "127.0.0.1.rebound.example",
        "localhost.rebound.example",
        "127.0.0.1@rebound.example",
        "rebound.example#127.0.0.1",
        "0.0.0.0:9464",
        "[::]:9464",
        "",
        "[::1",
        "127.0.0.1:x",
        "localhost/",
        [],
        ["127.0.0.1", "127.0.0.1"],
    ],
)
def test_a_name_that_was_made_to_point_here_is_refused(host):
    refusal = judge({"host": host})

    assert (refusal.status, refusal.code) == (403, AnswerCode.NOT_ALLOWED)
    assert "Host" in refusal.text


def test_the_name_that_the_site_file_gives_the_address_is_taken():
    access = an_access({}, ("Mill-Box", "127.0.1.1"))

    assert judge({"host": "mill-box:9464"}, "127.0.1.1", access) == Visitor(how=How.MACHINE)
    assert judge({"host": "0.0.0.0"}, access=an_access({}, ("0.0.0.0", "::"))).status == 403


@pytest.mark.parametrize(
    "page",
    [
        {"origin": "https://elsewhere.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:8080"},
        {"origin": "http://127.0.0.1"},
        {"origin": "https://127.0.0.1:9464"},
        {"origin": "http://127.0.0.1:9464.elsewhere.example"},
        {"origin": ["http://127.0.0.1:9464", "http://127.0.0.1:9464"]},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site", "origin": "http://127.0.0.1:9464"},
    ],
)
def test_a_page_of_another_site_is_refused(page):
    assert judge(HERE | page).status == 403


@pytest.mark.parametrize(
    "page",
    [
        {"origin": "http://127.0.0.1:9464"},
        {"origin": "http://127.0.0.1:9464", "sec-fetch-site": "same-origin"},
        {"sec-fetch-site": "none"},
    ],
)
def test_a_page_of_our_own_is_not(page):
    assert judge(HERE | page) == Visitor(how=How.MACHINE)


@pytest.mark.parametrize("name", ["x-forwarded-for", "forwarded", "via", "x-real-ip", "x-forwarded-host"])
def test_what_came_through_a_proxy_is_not_from_the_machine_itself(name):
    assert judge(HERE | {name: "127.0.0.1"}).status == 401


@pytest.mark.parametrize("host", ["192.0.2.7", "dp.alder-mill.example", "dp.alder-mill.example:9464"])
def test_under_the_public_name_a_proxy_without_a_header_is_not_taken_for_the_machine_itself(host):
    assert judge({"host": host}, access=an_access(public="https://dp.alder-mill.example")).status == 401


def test_behind_a_proxy_on_this_machine_guesses_count_for_whom_it_names_last():
    def at(forwarded, peer="127.0.0.1"):
        return place(peer, headers({"x-forwarded-for": forwarded}))

    assert at("10.0.0.1, 192.0.2.8") == at(["10.0.0.2", "192.0.2.8"]) == "192.0.2.8"
    assert at("10.0.0.1", peer=FAR) == FAR


def test_after_too_many_wrong_tokens_none_is_looked_at_for_a_while():
    access = an_access(names=())
    statuses = [judge(bearer(f"guess {number}"), FAR, access).status for number in range(GUESSES + 1)]

    assert statuses == [401] * GUESSES + [429]
    refusal = judge(bearer(TOKENS["anna"]), FAR, access)
    assert (refusal.status, refusal.code) == (429, AnswerCode.TOO_MANY)
    assert int(refusal.headers["Retry-After"]) == GUESS_EVERY_S + 1
    assert judge(bearer(TOKENS["anna"]), "192.0.2.8", access).person == "anna"
    assert judge(bearer(TOKENS["anna"]), FAR, access, GUESS_EVERY_S + 0.01).person == "anna"


def test_right_tokens_cost_nothing():
    access = an_access(names=())

    assert all(judge(bearer(TOKENS["anna"]), FAR, access).person == "anna" for _ in range(100))


def test_one_subscriber_of_ipv6_counts_as_one_place():
    access = an_access(names=())
    for number in range(GUESSES):
        judge(bearer("guess"), f"2001:db8:0:1::{number:x}", access)

    assert judge(bearer("guess"), "2001:db8:0:1:ffff::1", access).status == 429
    assert judge(bearer("guess"), "2001:db8:0:2::1", access).status == 401


def test_however_many_guess_the_memory_is_bounded_and_no_count_is_forgotten():
    guesses = Guesses()
    for number in range(10 * MOST_PLACES):
        guesses.note(f"place {number}", 0.0)
    for _ in range(GUESSES):
        guesses.note("place 0", 0.0)

    assert len(guesses) <= MOST_PLACES + 1
    assert guesses.wait_s("place 0", 0.0) > 0
    assert guesses.wait_s("place of somebody new", 0.0) > 0  # the newcomers share one count, and it is used up
    guesses.note("place 0", 10 * GUESSES * GUESS_EVERY_S)
    assert len(guesses) == 1


@pytest.mark.parametrize(
    ("kind", "is_ours"),
    [
        ("application/json", True),
        ("Application/JSON; charset=utf-8", True),
        ("text/plain", False),
        ("application/x-www-form-urlencoded", False),
        ("text/plain; application/json", False),
        ("application/json-patch", False),
        ([], False),
        (["application/json", "text/plain"], False),
    ],
)
def test_only_json_is_json(kind, is_ours):
    assert is_json(headers({"content-type": kind})) is is_ours


@pytest.mark.parametrize("name", ["localhost", "", "127.1", "0.0.0.0", "::", "1270.0.1", None])
def test_a_name_is_no_loopback_address(name):
    assert not is_loopback(name)
