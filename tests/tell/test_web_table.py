"""Every address of the table, tried by everybody who has no right to it, and by those who have.

The addresses come from the table itself: a new one is tried from its first day.
"""

import json
from dataclasses import replace

import pytest
from starlette.responses import JSONResponse

from monitor.tell import web_door
from monitor.tell.web_routes import application
from monitor.tell.web_sessions import LONGEST_S
from monitor.tell.web_table import Address, Right
from tests.tell.page_table import page_table
from tests.tell.visiting import (
    COOKIE,
    ELSEWHERE,
    PUBLIC,
    TOKENS,
    Mill,
    a_session,
    everything,
    needs_right,
    path_of,
)

TABLE = everything()
GUARDED = [one for one in TABLE if needs_right(one)]
OPEN = [one for one in TABLE if not needs_right(one)]
CHANGING = [one for one in GUARDED if one.method != "GET"]
INSIDE = 299


def named(address: Address) -> str:
    return f"{address.method} {address.path}"


def behind(table):
    """The same table, with nothing behind it but the news that somebody got in."""

    async def got_in(_request, visitor):
        return JSONResponse({"person": visitor.person}, INSIDE)

    return tuple(replace(one, handler=got_in, lasts=False) for one in table)


@pytest.fixture(scope="module")
def mill():
    with pytest.MonkeyPatch.context() as patch:
        real = application
        patch.setattr(web_door, "application", lambda table, *rest, **more: real(behind(table), *rest, **more))
        with Mill(addresses=page_table()) as served:
            yield served


@pytest.fixture(autouse=True)
def _set_clock(mill):
    mill.clock.utc_s = 1_772_352_723.0


def ask(mill, address, headers):
    return mill.ask(address.method, path_of(address), b"{}" if address.method != "GET" else None, headers)


def turned_away(mill, address, headers) -> int:
    status, found, body = ask(mill, address, headers)
    assert status != INSIDE
    told = json.loads(body)
    assert told.get("error") or told.get("text")
    assert {"content-security-policy", "x-content-type-options", "referrer-policy"} <= set(found)
    assert found["cache-control"] == "no-store"
    assert ("www-authenticate" in found) is (status == 401)
    return status


def person_let_in(mill, address, headers) -> str:
    status, _, body = ask(mill, address, headers)
    assert status == INSIDE, body
    return json.loads(body)["person"]


def test_the_table_has_every_right_and_every_address_once():
    assert {one.right for one in TABLE} == set(Right)
    assert len({named(one) for one in TABLE}) == len(TABLE)
    assert {named(one) for one in OPEN} == {
        "GET /",
        "GET /page/{file}",
        "GET /health",
        "GET /api/v1/me",
        "POST /api/v1/login",
        "GET /ack/{token}",
        "POST /ack/{token}",
    }


@pytest.mark.parametrize("address", GUARDED, ids=named)
class TestGuarded:
    def test_nobody_from_elsewhere(self, mill, address):
        assert turned_away(mill, address, ELSEWHERE) == 401

    def test_what_came_through_a_proxy_under_the_machines_own_name(self, mill, address):
        assert turned_away(mill, address, {"X-Forwarded-For": "127.0.0.1"}) == 401

    @pytest.mark.parametrize("host", ["rebound.example", "rebound.example:9464", "localhost.rebound.example", ""])
    def test_a_name_that_was_made_to_point_here(self, mill, address, host):
        assert turned_away(mill, address, {"Host": host}) == 403

    @pytest.mark.parametrize(
        "page",
        [
            {"Origin": "https://elsewhere.example"},
            {"Origin": "null"},
            {"Sec-Fetch-Site": "cross-site"},
            {"Sec-Fetch-Site": "same-site"},
        ],
    )
    def test_a_page_of_another_site(self, mill, address, page):
        assert turned_away(mill, address, page) == 403
        assert turned_away(mill, address, a_session(mill) | page) == 403

    def test_a_proxy_that_keeps_it_to_itself(self, mill, address):
        assert turned_away(mill, address, {"Origin": PUBLIC, "Sec-Fetch-Site": "same-origin"}) == 403

    @pytest.mark.parametrize("person", ["anna", "lena"])
    def test_whoever_has_a_token(self, mill, address, person):
        headers = ELSEWHERE | {"Authorization": f"Bearer {TOKENS[person]}"}

        assert person_let_in(mill, address, headers) == person

    @pytest.mark.parametrize("where", [{}, ELSEWHERE])
    def test_a_wrong_token(self, mill, address, where):
        mill.server._doors[0].access._guesses.__init__()

        assert turned_away(mill, address, where | {"Authorization": "Bearer guess"}) == 401
        assert turned_away(mill, address, where | {"Authorization": f"Basic {TOKENS['anna']}"}) == 401

    def test_a_wrong_token_beside_a_session(self, mill, address):
        mill.server._doors[0].access._guesses.__init__()

        assert turned_away(mill, address, a_session(mill) | {"Authorization": "Bearer guess"}) == 401

    @pytest.mark.parametrize("person", ["anna", "lena"])
    def test_whoever_has_logged_in(self, mill, address, person):
        assert person_let_in(mill, address, a_session(mill, person)) == person

    def test_a_session_under_a_name_that_is_not_ours(self, mill, address):
        assert turned_away(mill, address, a_session(mill) | {"Host": "rebound.example"}) == 403

    @pytest.mark.parametrize("later_s", [12 * 3600.0 + 1, LONGEST_S + 1, -2 * 86400.0])
    def test_a_session_that_has_run_out(self, mill, address, later_s):
        headers = a_session(mill)
        mill.clock.utc_s += later_s

        assert turned_away(mill, address, headers) == 401

    def test_a_session_that_was_logged_out(self, mill, address):
        headers = a_session(mill)
        sessions = mill.server._doors[0].sessions
        mill.call(lambda: sessions.end_of(headers["Cookie"].partition("=")[2]))

        assert turned_away(mill, address, headers) == 401

    def test_a_cookie_that_was_tampered_with(self, mill, address):
        headers = a_session(mill)
        name, _, secret = headers["Cookie"].partition("=")
        other = "A" if secret[0] != "A" else "B"
        for wrong in (other + secret[1:], secret[:-1], secret + "A", secret.swapcase(), ""):
            assert turned_away(mill, address, headers | {"Cookie": f"{name}={wrong}"}) == 401

    def test_a_cookie_under_a_name_without_its_bond_to_us(self, mill, address):
        headers = a_session(mill)

        assert (
            turned_away(mill, address, headers | {"Cookie": headers["Cookie"].replace(COOKIE, "cakewatch")}) == 401
        )

    def test_the_machine_itself(self, mill, address):
        assert person_let_in(mill, address, {}) == ""


@pytest.mark.parametrize("address", CHANGING, ids=named)
@pytest.mark.parametrize("shown", [None, "", "x", "another's"])
def test_what_changes_something_repeats_its_sessions_token(mill, address, shown):
    another = a_session(mill, "lena")["X-Cakewatch-Token"] if shown == "another's" else shown

    assert turned_away(mill, address, a_session(mill) | {"X-Cakewatch-Token": another}) == 403


@pytest.mark.parametrize("address", OPEN, ids=named)
@pytest.mark.parametrize(
    "headers",
    [ELSEWHERE, {"Host": "rebound.example"}, {"Authorization": "Bearer guess"}, {"Cookie": f"{COOKIE}=x"}],
    ids=["elsewhere", "rebound", "wrong token", "wrong cookie"],
)
def test_what_is_open_lets_everybody_in_and_believes_nobody(mill, address, headers):
    mill.server._doors[0].access._guesses.__init__()

    assert person_let_in(mill, address, headers) == ""


@pytest.mark.parametrize("address", TABLE, ids=named)
def test_no_address_takes_a_method_that_it_does_not_have(mill, address):
    has = {one.method for one in TABLE if one.path == address.path}
    for method in {"GET", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"} - has:
        status, found, _ = mill.ask(method, path_of(address), None, {})
        assert status == 405
        assert set(found["allow"].replace(" ", "").split(",")) - {"HEAD"} == has
        assert not [name for name in found if name.casefold().startswith("access-control")]


@pytest.mark.parametrize("address", [one for one in TABLE if one.method == "GET"], ids=named)
def test_asking_for_the_head_alone_needs_the_same_right(mill, address):
    assert mill.ask("HEAD", path_of(address), None, {})[0] == INSIDE
    status = mill.ask("HEAD", path_of(address), None, ELSEWHERE)[0]
    assert status == (401 if needs_right(address) else INSIDE)
