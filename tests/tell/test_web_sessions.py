"""Sessions: what ends them, what outlives a restart, and that the store tells nobody a way in."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.tell.web_sessions import LONGEST_S, MOST, MOST_OF_ONE, Sessions, csrf_of

NOW = 1_772_352_723.0
HASHES = {"anna": "hash of anna's", "ben": "hash of ben's"}
LIFE_S = 3600.0


def sessions(kept="", keep=None, hashes=HASHES):
    return Sessions(hashes, LIFE_S, kept, keep)


def test_a_session_is_its_persons_until_it_ends():
    some = sessions()
    secret = some.open("anna", "here", NOW)

    assert some.find(secret, NOW).person == "anna"
    some.end_of(secret)
    assert some.find(secret, NOW) is None


def test_a_session_that_is_used_goes_on_but_not_for_ever():
    some = sessions()
    secret = some.open("anna", "here", NOW)
    at = NOW
    while at - NOW < LONGEST_S - LIFE_S:
        at += LIFE_S - 1
        assert some.find(secret, at) is not None
    assert some.find(secret, NOW + LONGEST_S) is None


@pytest.mark.parametrize("later_s", [LIFE_S, LIFE_S + 1, 10 * LONGEST_S, -2 * 86400.0])
def test_an_unused_one_ends_and_so_does_one_from_a_clock_that_was_ahead(later_s):
    some = sessions()
    secret = some.open("anna", "here", NOW)

    assert some.find(secret, NOW + later_s) is None
    assert some.find(secret, NOW) is None


def test_a_restart_logs_nobody_out():
    kept = []
    secret = sessions(keep=kept.append).open("anna", "here", NOW)

    assert sessions(kept[-1]).find(secret, NOW + 1).person == "anna"


@pytest.mark.parametrize("hashes", [{}, {"ben": HASHES["ben"]}, HASHES | {"anna": "another"}])
def test_another_password_and_no_name_in_the_site_file_void_it(hashes):
    kept = []
    secret = sessions(keep=kept.append).open("anna", "here", NOW)

    assert sessions(kept[-1], hashes=hashes).find(secret, NOW) is None


def test_what_was_logged_out_stays_so_after_a_restart():
    kept = []
    some = sessions(keep=kept.append)
    secret = some.open("anna", "here", NOW)
    before = kept[-1]
    some.end_of(secret)

    assert sessions(before).find(secret, NOW) is not None
    assert sessions(kept[-1]).find(secret, NOW) is None


def test_nothing_in_the_store_lets_anybody_in():
    kept = []
    some = sessions(keep=kept.append)
    secret = some.open("anna", "here", NOW)

    assert secret not in kept[-1]
    assert csrf_of(secret) not in kept[-1]
    for value in json.loads(kept[-1])[0]:
        assert some.find(str(value), NOW) is None


def test_use_is_written_down_now_and_then_and_not_each_time():
    kept = []
    some = sessions(keep=kept.append)
    secret = some.open("anna", "here", NOW)
    for second in range(900):
        some.find(secret, NOW + second)

    assert len(kept) == 3
    assert sessions(kept[-1]).find(secret, NOW + 600 + LIFE_S - 1) is not None


def test_one_persons_many_logins_end_nobody_elses():
    some = sessions()
    bens = some.open("ben", "here", NOW)
    annas = [some.open("anna", "here", NOW + 1 + number) for number in range(MOST_OF_ONE + 3)]

    assert some.find(bens, NOW + 30) is not None
    alive = [secret for secret in annas if some.find(secret, NOW + 30)]
    assert alive == annas[-MOST_OF_ONE:]


def test_there_are_never_more_than_fit():
    hashes = {f"person {number}": "hash" for number in range(MOST)}
    some = sessions(hashes=hashes)
    for number in range(2 * MOST):
        some.open(f"person {number % MOST}", "here", NOW + number / 1000)

    assert len(some) == MOST


@given(st.text(max_size=60))
def test_whatever_a_cookie_holds_is_no_session(text):
    some = sessions()
    some.open("anna", "here", NOW)

    assert some.find(text, NOW) is None


@pytest.mark.parametrize("kept", ["", "x", "[]", "{}", "[[1]]", '[["a","b"]]', "null"])
def test_what_cannot_be_read_logs_everybody_out_and_harms_nothing(kept):
    some = sessions(kept)

    assert len(some) == 0
    assert some.find(some.open("anna", "here", NOW), NOW) is not None


def test_no_two_sessions_are_alike():
    some = sessions()
    secrets = {some.open("anna", "here", NOW) for _ in range(10)}

    assert len(secrets) == len({csrf_of(one) for one in secrets}) == 10
    assert all(len(one) == 43 for one in secrets)
