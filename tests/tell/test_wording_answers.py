"""Every answer to a command: one plain sentence, and for each refusal a way out."""

import re
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.scan.settings import CommandRules, PersonRights
from monitor.tell.wording import sentence
from monitor.tell.wording_answers import answer_sentence
from monitor.words import AlarmState, AnswerCode, Command, CommandKind, Door, Event, EventKind

EASY = frozenset({CommandKind.ACKNOWLEDGE, CommandKind.CLEAR})
RULES = CommandRules(
    people={
        "anna": PersonRights(may=EASY),
        "ben": PersonRights(may=frozenset(CommandKind), doors=frozenset({Door.HTTP})),
    },
    machine=EASY,
)
UNACK, ACKED = AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED


def command(kind=CommandKind.ACKNOWLEDGE, **changes):
    fields = {
        "command_id": "c-1",
        "by": "anna",
        "door": Door.MQTT,
        "tag": "" if kind is CommandKind.SILENCE else "PDAH-101",
        "sent_utc_s": 1_800_000_000.0,
    }
    return Command(kind=kind, **(fields | changes))


def told(code, kind=CommandKind.ACKNOWLEDGE, state=UNACK, rules=RULES, **changes):
    return answer_sentence(command(kind, **changes), code, state, rules)


@pytest.mark.parametrize("state", [*AlarmState, None])
@pytest.mark.parametrize("code", AnswerCode)
def test_every_code_of_every_command_in_every_state_has_a_plain_sentence(code, state):
    for kind in CommandKind:
        text = told(code, kind, state)

        assert not re.search(r"[{}_<>]|None|  ", text)
        assert not text.endswith(".")
        assert "PDAH-101" in text or "horn" in text
        # What is wrong, a mark, and the way out.
        assert code.is_done or re.search(r"[;:] ", text)


@pytest.mark.parametrize(
    ("code", "kind", "state", "changes", "text"),
    [
        (
            AnswerCode.DONE,
            CommandKind.ACKNOWLEDGE,
            ACKED,
            {},
            "PDAH-101 acknowledged by anna; it is active, acknowledged",
        ),
        (AnswerCode.DONE, CommandKind.CLEAR, AlarmState.NORMAL, {}, "PDAH-101 cleared by anna; it is normal"),
        (
            AnswerCode.DONE,
            CommandKind.CLEAR,
            AlarmState.RETURNED_UNACKNOWLEDGED,
            {},
            "latch of PDAH-101 undone by anna; it is back to normal, not acknowledged: acknowledge it to end it",
        ),
        (
            AnswerCode.DONE,
            CommandKind.SHELVE,
            AlarmState.SHELVED,
            {"for_s": 7200.0, "reason": "filter change"},
            (
                "PDAH-101 shelved by anna for 2 h, because: filter change; "
                "it is announced again at the end if its condition is still there"
            ),
        ),
        (
            AnswerCode.DONE,
            CommandKind.UNSHELVE,
            UNACK,
            {},
            "PDAH-101 unshelved by anna; its condition is still there: it is active, not acknowledged",
        ),
        (
            AnswerCode.DONE,
            CommandKind.OUT_OF_SERVICE,
            AlarmState.OUT_OF_SERVICE,
            {"reason": "calibration"},
            (
                "PDAH-101 taken out of service by anna, because: calibration; "
                "it warns nobody until a person returns it to service"
            ),
        ),
        (
            AnswerCode.DONE,
            CommandKind.RETURN_TO_SERVICE,
            AlarmState.NORMAL,
            {},
            "PDAH-101 returned to service by anna; it is normal",
        ),
        (
            AnswerCode.STILL_ACTIVE,
            CommandKind.CLEAR,
            UNACK,
            {},
            (
                "PDAH-101 cannot be cleared while its condition is still there: it is active, not acknowledged; "
                "acknowledge it, or shelve it with an end and a reason"
            ),
        ),
        (
            AnswerCode.STILL_ACTIVE,
            CommandKind.CLEAR,
            ACKED,
            {},
            (
                "PDAH-101 cannot be cleared while its condition is still there: it is active, acknowledged; "
                "wait until it is back to normal, or shelve it with an end and a reason"
            ),
        ),
        (
            AnswerCode.TOO_LONG,
            CommandKind.SHELVE,
            UNACK,
            {"for_s": 86400.0},
            (
                "PDAH-101 cannot be shelved for 24 h: 8 h is the longest here; "
                "ask for less, or take it out of service"
            ),
        ),
        (
            AnswerCode.END_MISSING,
            CommandKind.SHELVE,
            UNACK,
            {},
            "PDAH-101 cannot be shelved without an end; say for how long, 8 h at most",
        ),
        (
            AnswerCode.REASON_MISSING,
            CommandKind.OUT_OF_SERVICE,
            UNACK,
            {"reason": "x" * 300},
            (
                "PDAH-101 cannot be taken out of service with a reason of 300 characters; "
                "200 at most, so that it is read"
            ),
        ),
        (
            AnswerCode.NOT_IN_THAT_STATE,
            CommandKind.CLEAR,
            AlarmState.RETURNED_UNACKNOWLEDGED,
            {},
            "PDAH-101 cannot be cleared now: it is back to normal, not acknowledged; acknowledge it, that ends it",
        ),
        (
            AnswerCode.NOT_IN_THAT_STATE,
            CommandKind.ACKNOWLEDGE,
            AlarmState.SHELVED,
            {},
            "PDAH-101 cannot be acknowledged now: it is shelved; unshelve it first",
        ),
        (
            AnswerCode.LATE,
            CommandKind.SHELVE,
            UNACK,
            {"sent_utc_s": None},
            "the command to shelve PDAH-101 does not say when it was sent; send it anew with the time",
        ),
        (
            AnswerCode.UNKNOWN_ALARM,
            CommandKind.TEST,
            None,
            {"tag": "PDAH-999"},
            "there is no alarm PDAH-999 in the site file; look its name up in the list of alarms",
        ),
    ],
)
def test_an_answer_says_what_was_done_or_why_not_and_the_way_out(code, kind, state, changes, text):
    assert told(code, kind, state, **changes) == text


def test_who_may_not_is_told_what_he_may():
    assert told(AnswerCode.NOT_ALLOWED, CommandKind.SHELVE) == (
        "anna may not shelve PDAH-101 by MQTT; allowed: acknowledge, clear; "
        "ask somebody who may, or have the right added to the site file"
    )


def test_who_comes_through_the_wrong_door_is_told_the_right_one():
    assert told(AnswerCode.NOT_ALLOWED, CommandKind.SHELVE, by="ben") == (
        "ben may not shelve PDAH-101 by MQTT; open to that person: by HTTP"
    )


def test_without_a_secret_the_rights_of_the_machine_count_whatever_name_is_given():
    text = told(AnswerCode.NOT_ALLOWED, CommandKind.SHELVE, by="ben", door=Door.COMMAND_LINE)

    assert text.startswith(
        "without a secret nobody may shelve PDAH-101 on the command line; allowed: acknowledge, clear"
    )


def test_a_stranger_is_not_told_who_is_known():
    text = told(AnswerCode.UNKNOWN_PERSON, by="mallory")

    assert "mallory" in text
    assert "anna" not in text
    assert "ben" not in text


@pytest.mark.parametrize(
    ("code", "kind"), list(product(set(AnswerCode) - {AnswerCode.DONE}, CommandKind)), ids=str
)
def test_a_refused_command_stands_in_the_journal_in_plain_words(code, kind):
    facts = {"command": kind.value, "code": code.value, "door": "mqtt", "refused_meanwhile": 0}
    refused = Event(
        kind=EventKind.SYSTEM,
        happened="command_refused",
        at_utc_s=0,
        text="",
        by="anna",
        tag="PDAH-101",
        facts=facts,
    )
    text = sentence(refused)

    assert text.startswith("command refused: anna asked by MQTT to ")
    assert "_" not in text
    assert ", but " in text


def test_a_flood_of_refused_commands_is_counted():
    facts = {"command": "clear", "code": "late", "refused_meanwhile": 12}
    refused = Event(
        kind=EventKind.SYSTEM,
        happened="command_refused",
        at_utc_s=0,
        text="",
        by="anna",
        tag="PDAH-101",
        facts=facts,
    )

    assert sentence(refused) == (
        "command refused: anna asked to clear PDAH-101, but it came too late; "
        "12 more refused since the last was told"
    )


@given(
    code=st.sampled_from(AnswerCode),
    kind=st.sampled_from(CommandKind),
    state=st.none() | st.sampled_from(AlarmState),
    by=st.text(),
    tag=st.text(),
    reason=st.text(),
    for_s=st.none() | st.floats(),
)
def test_whatever_was_sent_the_answer_is_one_line(code, kind, state, by, tag, reason, for_s):
    text = told(code, kind, state, by=by, tag=tag, reason=reason, for_s=for_s)

    assert len(text.splitlines()) == 1
    assert len(text) < 500
