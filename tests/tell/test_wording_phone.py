"""What the phone did, as it stands in the journal."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.tell.phone.message import MessageKind
from monitor.tell.wording import look_first, sentence, what_was_found
from monitor.tell.wording_phone import _ABOUT, CHECK, STORIES
from monitor.words import AlarmState, Cause, Event, EventKind
from tests.tell.journal import event


def system(happened: str, **facts) -> Event:
    by = facts.pop("by", None)
    return Event(kind=EventKind.SYSTEM, happened=happened, at_utc_s=1_800_000_000.0, text="", by=by, facts=facts)


TOLD = {
    "person": "anna",
    "channel": "push",
    "attempt": 1,
    "ref": "k7f3q2m9",
    "message": "alarm",
    "tags": "PDAH-101",
}
WHY = "for PDAH-101: tried anna, ben; last: refused: 402"
LOST = {"condition": "link_lost", "detail": WHY, "auto_clear_s": None}


@pytest.mark.parametrize(
    ("happening", "text"),
    [
        pytest.param(
            system("notified", **TOLD, took_s=0.42),
            "phone: anna by push told of an alarm (PDAH-101) in 0.42 s, attempt 1 (#k7f3q2m9)",
            id="told",
        ),
        pytest.param(
            system("not_notified", **TOLD, why="no answer within 10 s"),
            "phone: anna by push not reached with an alarm (PDAH-101): no answer within 10 s, "
            "attempt 1 (#k7f3q2m9)",
            id="not told",
        ),
        pytest.param(
            system("nobody_reached", tags="PDAH-101", people="anna, ben", why="gateway answers 402"),
            "nobody could be reached by phone for PDAH-101 (called: anna, ben): gateway answers 402; "
            f"check first: {CHECK}",
            id="nobody",
        ),
        pytest.param(
            system("nobody_reached", tags="PDAH-101", people="", why="nobody is on duty"),
            "nobody could be reached by phone for PDAH-101: nobody is on duty; "
            "check first: the duty rota in the site file",
            id="nobody on duty",
        ),
        pytest.param(
            system("callout_given_up", tags="PDAH-101", detail="too many callouts are open; the oldest was ended"),
            "phone: nobody is called any more for PDAH-101: too many callouts are open; the oldest was ended",
            id="given up",
        ),
        pytest.param(
            system("reached_again", person="ben"),
            "people can be reached by phone again: ben was told",
            id="again",
        ),
        pytest.param(
            system("message_test_asked", by="anna", to=""),
            "anna asked for a test message to everybody who can be called",
            id="test for all",
        ),
        pytest.param(
            system("message_test_asked", by="anna", to="ben"), "anna asked for a test message to ben", id="test"
        ),
        pytest.param(
            system("held_back_told", person="anna", channel="push", count=12),
            "phone: anna by push told of 12 alarms held back in a flood, in one message",
            id="held back",
        ),
        pytest.param(
            event(collector=None, link="phone", tag="PHONE-LOST", value=None, setpoint=None, facts=LOST),
            f"phone: nobody could be reached by phone {WHY}: alarm PHONE-LOST raised, "
            f"priority high, since 2027-01-15 08:00:01 UTC; check first: {CHECK}",
            id="alarm",
        ),
        pytest.param(
            event(
                collector=None,
                link="phone",
                tag="PHONE-LOST",
                happened="cleared",
                state=AlarmState.NORMAL,
                cause=Cause.PROCESS,
                seen=True,
                facts=LOST,
            ),
            "phone: people can be reached by phone again (PHONE-LOST): alarm cleared",
            id="alarm over",
        ),
    ],
)
def test_what_the_phone_did_is_told_in_plain_words(happening, text):
    assert sentence(happening) == text


def test_a_link_to_devices_keeps_its_own_words():
    lost = event(collector=None, link="mill", tag="mill-LOST", facts={"condition": "link_lost"})

    assert sentence(lost).startswith("link mill: its collectors cannot be seen: alarm mill-LOST raised")
    assert what_was_found(lost) == "its collectors cannot be seen"


def test_every_kind_of_message_has_its_words():
    assert set(_ABOUT) == {kind.value for kind in MessageKind}


@pytest.mark.parametrize("happened", STORIES)
@given(
    facts=st.dictionaries(
        st.sampled_from([*TOLD, "took_s", "why", "count", "to", "detail"]), st.text() | st.floats()
    )
)
def test_any_facts_give_one_line(happened, facts):
    assert "\n" not in sentence(system(happened, **facts))


@pytest.mark.parametrize(
    ("happening", "found"),
    [
        (event(), "DP 7.23 inH2O reached the high band (7 inH2O)"),
        (
            event(facts={"condition": "bad_signal", "reason": "no_answer"}),
            "DP cannot be trusted: the device does not answer",
        ),
        (
            event(value=61.0, unit="psi", facts={"sign": "header_not_recovering", "usual": 88.0}),
            "the pulse header does not come back to its pressure (61 psi, usually 88 psi)",
        ),
    ],
)
def test_what_was_found_says_neither_where_nor_when(happening, found):
    assert what_was_found(happening) == found
    assert look_first(happening) in sentence(happening)
