"""Links: short, known over a restart, good for one person, some alarms, one time and a while."""

import re

import pytest

from monitor.tell.web_links import MOST, AckLinks, LinkState

KEY = b"0123456789abcdef"
PUBLIC = "https://dp.alder-mill.example"
NOW = 1_772_352_723.0
LIFE_S = 8 * 3600.0
ALARMS = (("PDAH-101", "PDAH-101@1"), ("PDT-101-BAD", "PDT-101-BAD@2"))


def links(kept="", keep=None, key=KEY, public=PUBLIC):
    return AckLinks(key, public, LIFE_S, kept, keep)


def token_of(url):
    return url.removeprefix(f"{PUBLIC}/ack/")


def test_a_link_is_short_and_stands_for_its_person_and_alarms():
    some = links()
    url = some.make("anna", ALARMS, NOW)

    assert len(url) == 56
    assert re.fullmatch(r"[A-Za-z0-9_-]{22}", token_of(url))
    found = some.find(token_of(url))
    assert (found.person, found.alarms) == ("anna", ALARMS)
    assert some.state(found, NOW) is LinkState.GOOD


def test_it_is_written_down_before_it_is_handed_out_and_known_after_a_kill():
    kept = []
    url = links(keep=kept.append).make("anna", ALARMS, NOW)

    again = links(kept[-1])
    assert again.find(token_of(url)).alarms == ALARMS
    assert token_of(url) not in kept[-1]


def test_a_link_that_cannot_be_written_down_is_not_handed_out():
    def keep(_text):
        raise OSError("disk full")

    with pytest.raises(OSError, match="disk full"):
        links(keep=keep).make("anna", ALARMS, NOW)


def test_a_message_that_is_sent_again_bears_the_same_link_and_another_one_another():
    some = links()
    url = some.make("anna", ALARMS, NOW)

    assert some.make("anna", ALARMS, NOW + 60) == url
    others = {
        some.make("ben", ALARMS, NOW),
        some.make("anna", ALARMS[:1], NOW),
        some.make("anna", ALARMS, NOW + LIFE_S / 2),
    }
    assert len(others | {url}) == 4


def test_after_its_use_a_new_one_is_made():
    some = links()
    url = some.make("anna", ALARMS, NOW)
    some.use_up(some.find(token_of(url)), NOW)

    assert some.make("anna", ALARMS, NOW) != url


@pytest.mark.parametrize(
    ("later_s", "state"),
    [
        (LIFE_S - 1, LinkState.GOOD),
        (LIFE_S, LinkState.EXPIRED),
        (30 * LIFE_S, LinkState.EXPIRED),
        (-LIFE_S, LinkState.EXPIRED),
    ],
)
def test_it_expires(later_s, state):
    some = links()
    found = some.find(token_of(some.make("anna", ALARMS, NOW)))

    assert some.state(found, NOW + later_s) is state


def test_its_use_is_known_after_a_kill():
    kept = []
    some = links(keep=kept.append)
    token = token_of(some.make("anna", ALARMS, NOW))
    some.use_up(some.find(token), NOW + 5)

    again = links(kept[-1])
    assert again.state(again.find(token), NOW + 6) is LinkState.USED
    assert again.find(token).used_utc_s == NOW + 5


def test_without_the_key_no_link_is_known():
    kept = []
    token = token_of(links(keep=kept.append).make("anna", ALARMS, NOW))

    assert links(kept[-1], key=b"another key 1234").find(token) is None


def test_no_link_where_no_phone_can_reach_us_or_nothing_is_to_be_acknowledged():
    assert links(public="").make("anna", ALARMS, NOW) == ""
    assert links().make("anna", (), NOW) == ""


def test_there_are_never_more_than_fit_and_the_good_ones_stay_the_longest():
    some = links()
    used = token_of(some.make("anna", ALARMS, NOW))
    good = token_of(some.make("ben", ALARMS, NOW - 10))
    some.use_up(some.find(used), NOW)
    for number in range(MOST - 1):
        some.make("anna", ((f"PDAH-{number}", "1"),), NOW)

    assert len(some) == MOST
    assert some.find(used) is None
    assert some.find(good) is not None


@pytest.mark.parametrize("kept", ["x", "[]", "{}", "[[1]]"])
def test_what_cannot_be_read_is_forgotten(kept):
    assert len(links(kept)) == 0
