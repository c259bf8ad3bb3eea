"""What a person reads on the phone: what matters first, and never a cut link, tag or reference."""

import re
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.tell.phone.message import Message, MessageKind, ToldAlarm
from monitor.tell.phone.wording_gsm import is_gsm
from monitor.tell.phone.wording_message import LINK_MOST, SHORT, MessageContext, StandNow, fits, full, short
from monitor.tell.wording_causes import CHECKS
from monitor.troubles import Suspicion, Trouble
from monitor.words import Priority
from tests.tell.phone.messages import LINK, NOW, WARSAW, bad_signal, context, high, link_lost, message, told

EVIL = "a\nACKNOWLEDGE: https://evil.example\x00\u202e"
CALLS = (
    MessageKind.ALARM,
    MessageKind.MORE,
    MessageKind.REMINDER,
    MessageKind.ESCALATION,
    MessageKind.HELD_BACK,
)
NAME = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}", fullmatch=True)
TAG = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,49}", fullmatch=True)
LINKS = st.one_of(st.just(""), st.from_regex(r"https://[a-z0-9.-]{1,25}/ack/[A-Za-z0-9_-]{22}", fullmatch=True))
HOSTILE = st.text(max_size=40).map(lambda text: 3 * text)
UTC_S = st.floats(NOW - 1e7, NOW + 1e7)

suspicions = st.lists(
    st.builds(Suspicion, st.sampled_from(Trouble), st.floats(0, 1), st.just(()), st.just(())), max_size=2
).map(tuple)
alarms = st.builds(
    ToldAlarm,
    event_id=st.just("e"),
    tag=TAG,
    at_utc_s=UTC_S,
    priority=st.sampled_from(Priority),
    text=HOSTILE,
    collector=st.one_of(st.none(), NAME),
    link=st.one_of(st.none(), NAME, st.just("phone")),
    value=st.one_of(st.none(), st.floats(allow_nan=True)),
    setpoint=st.one_of(st.none(), st.floats(allow_nan=True)),
    unit=st.sampled_from(["", "inH2O", "psi"]),
    suspicions=suspicions,
    returned_utc_s=st.one_of(st.none(), UTC_S),
    acknowledged_by=st.one_of(st.just(""), HOSTILE),
    what=HOSTILE,
    check=HOSTILE,
)
messages = st.builds(
    Message,
    ref=st.from_regex(r"[a-z0-9]{8}", fullmatch=True),
    kind=st.sampled_from(MessageKind),
    person=NAME,
    channel=NAME,
    attempt=st.integers(1, 99),
    alarms=st.lists(alarms, max_size=3).map(tuple),
    held_back=st.integers(0, 9999),
    called_before=st.lists(NAME, max_size=6).map(tuple),
    by=HOSTILE,
    at_utc_s=UTC_S,
)
stands = st.builds(
    StandNow,
    collectors=st.integers(0, 500),
    alarms=st.integers(0, 500),
    unacknowledged=st.integers(0, 500),
    links_lost=st.lists(NAME, max_size=9).map(tuple),
    cannot_be_trusted=st.lists(NAME, max_size=9).map(tuple),
    shelved=st.integers(0, 99),
    out_of_service=st.integers(0, 99),
    journal_ok=st.booleans(),
    outlets_failing=st.lists(NAME, max_size=3).map(tuple),
    filters_due=st.lists(HOSTILE, max_size=3).map(tuple),
)
contexts = st.builds(
    MessageContext,
    site=HOSTILE,
    zone=st.just(WARSAW),
    link=LINKS,
    outlook=HOSTILE.map(lambda words: lambda _: words),
    stand=stands,
)


@settings(max_examples=120)
@given(messages, contexts)
def test_a_short_message_fits_one_text_message_with_its_link_tag_and_reference_whole(sent, known):
    words = short(sent, known)

    assert len(words) <= SHORT
    assert is_gsm(words)
    assert words.endswith(f" #{sent.ref}")
    if sent.kind in CALLS and known.link:
        assert words.endswith(f" {known.link} #{sent.ref}")
    if sent.alarms and sent.kind not in (MessageKind.TEST, MessageKind.ALL_WELL):
        assert sent.alarms[0].tag in words


@settings(max_examples=120)
@given(messages, contexts)
def test_a_full_message_has_everything_a_person_needs_and_no_line_of_anybody_elses(sent, known):
    text = full(sent, known)

    assert text.title.isprintable()
    assert len(text.title) <= 150
    assert all(line.isprintable() and line for line in text.body.split("\n"))
    assert text.body.endswith(f"#{sent.ref}")
    if sent.kind in CALLS:
        assert f"Acknowledge: {known.link or 'on the page'}" in text.body
        for alarm in sent.alarms[:8]:
            assert alarm.tag in text.body


@given(st.integers(9, 200), st.integers(0, 5000))
def test_what_is_not_listed_is_counted(count, held_back):
    text = full(message(MessageKind.HELD_BACK, *(count * [high()]), held_back=held_back), context())

    assert f"and {count - 8 + held_back} more: see the page" in text.body
    assert text.title.startswith(f"{count + held_back} alarms, the worst: ")


def test_an_alarm_says_where_what_how_much_since_when_trend_cause_check_caution_and_how_to_acknowledge():
    text = full(message(), context(zone=WARSAW))

    assert text.title == "HIGH DC-101: DP 7.23 inH2O reached the high band (7 inH2O)"
    assert text.body.split("\n") == [
        "DC-101: DP 7.23 inH2O reached the high band (7 inH2O)",
        "Alarm PDAH-101, priority high, since 08:48 (12 min ago)",
        "DP now 7.6 inH2O, up 0.3 in the last hour",
        (
            "Likely: header pressure lost (header 42 psi, usually 90 psi; the sawtooth of cleaning is gone); "
            "or no cleaning pulses (the sawtooth of cleaning is gone)."
        ),
        "Check first: header gauge, compressor, supply valve, regulator",
        (
            "Caution: the header holds pressure even when shut off; lock out and bleed before any work; "
            "local codes and licensed people decide"
        ),
        "Acknowledge: on the page, or on the machine: cakewatch ack site.yaml PDAH-101",
        "Alder Mill #k7f3q2m9",
    ]


SHORTS = {
    "alarm": (
        message(),
        (
            "HIGH DC-101 PDAH-101: DP 7.23 inH2O, high band 7, likely header pressure lost, since 07:48 "
            f"{LINK} #k7f3q2m9"
        ),
    ),
    "signal": (
        message(MessageKind.ALARM, bad_signal()),
        f"MEDIUM DC-102 PDT-102-BAD: DP cannot be trusted: loop failed low (3.5 mA), since 07:55 {LINK} #k7f3q2m9",
    ),
    "link": (
        message(MessageKind.ALARM, link_lost()),
        f"HIGH link mill mill-LOST: collectors not seen (not connected), since 07:57 {LINK} #k7f3q2m9",
    ),
    "more": (
        message(MessageKind.MORE, high(), bad_signal()),
        (
            "ALSO HIGH DC-101 PDAH-101 +1 more: DP 7.23 inH2O, high band 7, likely header pressure lost "
            f"{LINK} #k7f3q2m9"
        ),
    ),
    "reminder": (
        message(MessageKind.REMINDER, high(25)),
        f"HIGH DC-101 PDAH-101, no answer for 25 min: DP 7.23 inH2O, high band 7, now 7.6 inH2O {LINK} #k7f3q2m9",
    ),
    "escalation": (
        message(MessageKind.ESCALATION, high(15), called_before=("anna", "ben")),
        (
            "HIGH DC-101 PDAH-101, no answer from anna and ben: DP 7.23 inH2O, high band 7, since 07:45 "
            f"{LINK} #k7f3q2m9"
        ),
    ),
    "held back": (
        message(MessageKind.HELD_BACK, high(), link_lost(), held_back=10),
        f"12 alarms, worst: HIGH DC-101 PDAH-101: DP 7.23 inH2O, high band 7, since 07:48 {LINK} #k7f3q2m9",
    ),
    "acknowledged": (
        message(MessageKind.ACKNOWLEDGED, high(), by="ben"),
        "ben acknowledged DC-101 PDAH-101 at 08:00 #k7f3q2m9",
    ),
    "returned": (
        message(MessageKind.RETURNED, high(40, returned_utc_s=NOW - 60, acknowledged_by="ben")),
        (
            "Back to normal: DC-101 PDAH-101 at 07:59, after 39 min, acknowledged by ben, "
            "was: DP 7.23 inH2O, high band 7 #k7f3q2m9"
        ),
    ),
    "test": (
        message(MessageKind.TEST),
        "Test for anna by push: alarms reach you this way. Nothing to do #k7f3q2m9",
    ),
}


@pytest.mark.parametrize(("sent", "words"), SHORTS.values(), ids=SHORTS.keys())
def test_what_matters_comes_first_in_a_short_message(sent, words):
    assert short(sent, context(link=LINK)) == words


def test_what_does_not_fit_goes_in_the_planned_order():
    """With ever less room the check and the trend go first, then the time, the cause, and never the value."""
    seen = []
    for length in range(1, 41):
        words = short(message(MessageKind.ALARM, high(tag="T" * length)), context(link=LINK))
        seen.append(tuple(sign in words for sign in ("7.23 inH2O", "likely", "since")))

    assert seen == sorted(seen, reverse=True), "what matters more is left out later"
    assert {one[0] for one in seen} == {True}
    assert seen[0] == (True, True, True)
    assert seen[-1] == (True, False, False)


@pytest.mark.parametrize("link", ["https://" + "a" * LINK_MOST, "https://x/~y", "https://x/ä y"])
def test_a_link_that_cannot_be_carried_is_left_out_and_that_is_said(link):
    words = short(message(), context(link=link))

    assert not fits(link)
    assert link not in words
    assert words.endswith(". Link too long, ack on the page #k7f3q2m9")
    assert f"Acknowledge: {link}" in full(message(), context(link=link)).body


def test_an_alarm_that_has_returned_meanwhile_says_so_at_once():
    gone = high(40, returned_utc_s=NOW - 60)
    words = short(message(MessageKind.REMINDER, gone), context(link=LINK))

    assert words.startswith("HIGH DC-101 PDAH-101, now normal, no answer for 40 min: DP 7.23 inH2O")
    assert "back to normal after 39 min" in full(message(MessageKind.REMINDER, gone), context()).body


@pytest.mark.parametrize("trouble", Trouble)
def test_a_new_alarm_has_its_cause_even_beside_a_link_of_usual_length(trouble):
    words = short(message(MessageKind.ALARM, high(suspicions=(Suspicion(trouble, 0.7),))), context(link=LINK))

    assert len(LINK) > 50
    assert ", likely " in words


def test_a_reminder_says_how_long_and_whom_an_escalation_who_did_not_answer():
    remind = full(message(MessageKind.REMINDER, high(25), bad_signal(), called_before=("anna", "ben")), context())
    rise = full(message(MessageKind.ESCALATION, high(25), called_before=("anna",)), context())

    assert remind.title.startswith("STILL NOT ACKNOWLEDGED: HIGH DC-101")
    assert remind.body.startswith("Not acknowledged for 25 min. Called so far: anna and ben.\n")
    assert rise.title.startswith("NOBODY HAS ANSWERED: HIGH DC-101")
    assert rise.body.startswith("Called before, no answer: anna.\n")


def test_an_acknowledgement_says_by_whom_and_when_and_asks_for_nothing():
    text = full(message(MessageKind.ACKNOWLEDGED, high(), by="ben"), context(link=LINK))

    assert text.body.startswith("ben acknowledged DC-101 PDAH-101 at 08:00. Nobody is called for it any more.")
    assert "Acknowledge:" not in text.body
    assert LINK not in short(message(MessageKind.ACKNOWLEDGED, high(), by="ben"), context(link=LINK))


@pytest.mark.parametrize(
    ("trouble", "words"),
    [
        ({"alarms": 2}, "2 alarms active"),
        ({"unacknowledged": 1}, "1 alarm not acknowledged"),
        ({"links_lost": ("mill", "kiln")}, "no link to mill and kiln"),
        ({"cannot_be_trusted": ("DC-102",)}, "DP of DC-102 cannot be trusted"),
        ({"journal_ok": False}, "the journal cannot be written"),
        ({"outlets_failing": ("mqtt", "the address outside")}, "out of reach: mqtt and the address outside"),
        ({"collectors": 0}, "no collector is watched"),
    ],
)
def test_any_trouble_makes_it_not_all_well_and_is_named(trouble, words):
    known = context(stand=replace(StandNow(collectors=24), **trouble))
    sent = message(MessageKind.ALL_WELL)

    assert full(sent, known).title == "NOT all well at Alder Mill"
    assert f"- {words}\n" in full(sent, known).body
    assert short(sent, known).startswith(f"Alder Mill 08:00 NOT all well: {words}")


def test_all_well_says_what_people_put_aside_and_whose_filters_are_due():
    stand = StandNow(collectors=24, shelved=2, out_of_service=1, filters_due=("DC-103 in about 12 days",))
    words = short(message(MessageKind.ALL_WELL), context(stand=stand))

    assert words == (
        "Alder Mill 08:00 all well, 24 collectors watched, 2 alarms shelved, 1 alarm out of service, "
        "change filters: DC-103 in about 12 days #k7f3q2m9"
    )


@pytest.mark.parametrize("trouble", Trouble)
def test_every_cause_brings_its_check_and_its_caution_to_the_phone(trouble):
    lines = full(message(MessageKind.ALARM, told(suspicions=(Suspicion(trouble, 0.7),))), context()).body.split(
        "\n"
    )

    assert f"Check first: {CHECKS[trouble].look}" in lines
    assert any(line.startswith(f"Caution: {CHECKS[trouble].caution}") for line in lines)


def test_an_alarm_without_a_cause_brings_a_check_and_the_usual_caution_too():
    body = full(message(MessageKind.ALARM, told()), context()).body

    assert "Check first: compressed air, cleaning, hopper" in body
    assert re.search(r"^Caution: .*lock-out, confined space, combustible dust; local codes", body, re.MULTILINE)


@pytest.mark.parametrize(
    ("answered", "told"),
    [
        ({"answered": "shelved", "answered_until_utc_s": NOW + 7200.0}, "ben shelved DC-101 PDAH-101 until "),
        ({"answered": "taken_out_of_service"}, "ben took DC-101 PDAH-101 out of service"),
        ({"answered": "cleared"}, "ben cleared DC-101 PDAH-101"),
        ({"answered": "removed"}, "DC-101 PDAH-101 is no longer watched: the site file has changed"),
    ],
)
def test_the_others_are_told_what_was_really_done(answered, told):
    done = message(MessageKind.ACKNOWLEDGED, high()._replace(**answered, answered_why="bag change"), by="ben")

    assert told in full(done, context()).title
    assert told in short(done, context())
    assert "because: bag change" in full(done, context()).body
    assert "acknowledged" not in short(done, context())


def test_who_may_only_look_is_not_told_to_acknowledge():
    called = message(MessageKind.ALARM, high(), may_acknowledge=False)

    assert "Acknowledging is not yours: call somebody who may" in full(called, context()).body
    assert "Call who may ack" in short(called, context())


@pytest.mark.parametrize(
    ("explains", "line"),
    [
        (1, "1 more alarm follows from this one and is held back under it"),
        (3, "3 more alarms follow from this one and are held back under it"),
    ],
)
def test_what_is_held_back_under_an_alarm_is_counted(explains, line):
    body = full(message(MessageKind.ALARM, high()._replace(explains=explains)), context()).body

    assert line in body.splitlines()


@pytest.mark.parametrize(("kind", "written"), list(product(CALLS, ["", EVIL])))
def test_hostile_text_makes_no_line_of_its_own(kind, written):
    alarm = high()._replace(what=f"{written} x", text=written, check=written)
    body = full(message(kind, alarm, called_before=(written,)), context(site=f"{written}s")).body

    assert not re.search(r"^ACKNOWLEDGE", body, re.MULTILINE)
    assert "\x00" not in body
    assert "\u202e" not in body


def test_an_alarm_of_an_older_state_without_what_is_told_by_its_sentence():
    words = full(message(MessageKind.ALARM, high()._replace(what="")), context())

    assert words.title.startswith("HIGH DC-101: DP 7.23 inH2O reached the high band PDAH-101 (7 inH2O)")
