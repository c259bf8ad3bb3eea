"""Filters by command: a new set begins its life, an action goes into the record; each done once and told."""

from dataclasses import replace

import pytest

from monitor.interpret.settings import CurveSettings
from monitor.words import AnswerCode, Cause, CommandKind, EventKind
from tests.scan.asking import Shift
from tests.scan.plans import UTC, plan

CHANGED, RECORD = CommandKind.FILTERS_CHANGED, CommandKind.RECORD_ACTION
ABOUT = {"tag": "", "collector": "DC-101"}


def shift():
    return Shift(replace(plan(), curve=CurveSettings()))


def test_a_new_set_of_filters_begins_its_life_when_it_was_put_in():
    today = shift()
    answer = today.ask(3, CHANGED, at_utc_s=UTC - 3600, reason="third set", **ABOUT)
    (event,) = [one for one in today.events if one.happened == "filters_changed"]

    assert answer.code is AnswerCode.DONE
    assert today.state.collectors["DC-101"].curve.ageing.since_utc_s == UTC - 3600
    assert (event.kind, event.collector, event.by, event.cause) == (
        EventKind.SYSTEM, "DC-101", "anna", Cause.PERSON
    )  # fmt: skip
    assert (event.facts["about_utc_s"], event.facts["reason"]) == (UTC - 3600, "third set")


def test_a_corrective_action_goes_into_the_journal_as_it_was_said():
    today = shift()
    answer = today.ask(3, RECORD, at_utc_s=UTC - 60, reason="wet  dust", action="dried the air", **ABOUT)
    (event,) = [one for one in today.events if one.happened == "action_recorded"]

    assert answer.code is AnswerCode.DONE
    assert (event.facts["cause"], event.facts["action"]) == ("wet dust", "dried the air")
    assert event.facts["about_utc_s"] == UTC - 60


@pytest.mark.parametrize(
    ("kind", "changes", "code"),
    [
        (CHANGED, {"collector": "DC-999"}, AnswerCode.UNKNOWN_COLLECTOR),
        (CHANGED, {"at_utc_s": UTC + 3600}, AnswerCode.TIME_UNFIT),
        (CHANGED, {"at_utc_s": UTC - 4000 * 86400}, AnswerCode.TIME_UNFIT),
        (RECORD, {"reason": "", "action": "dried the air"}, AnswerCode.REASON_MISSING),
        (RECORD, {"reason": "wet dust", "action": " "}, AnswerCode.REASON_MISSING),
        (RECORD, {"reason": "wet dust", "action": "x" * 201}, AnswerCode.REASON_MISSING),
    ],
)
def test_what_cannot_be_meant_is_refused_and_changes_nothing(kind, changes, code):
    today = shift()
    before = today.state.collectors["DC-101"]

    assert today.ask(3, kind, **{**ABOUT, **changes}).code is code
    assert today.state.collectors["DC-101"] is before


def test_the_same_record_twice_is_written_once():
    today = shift()
    for second in (3, 4):
        answer = today.ask(second, RECORD, command_id="c-9", reason="wet", action="dried", at_utc_s=UTC, **ABOUT)

    assert answer.repeated
    assert len([one for one in today.events if one.happened == "action_recorded"]) == 1
