"""The way to people: the alarm that nobody could be reached, and test messages to who can be called."""

from dataclasses import replace

import pytest

from monitor.scan.settings import CommandRules, LinkAlarmPlan
from monitor.words import AlarmState, AnswerCode, Command, CommandKind, Door, LinkChange
from tests.scan.asking import Shift
from tests.scan.plans import alarm, at, plan

WHY = "PDAH-101: anna and ben were tried, last: timed out after 10 s"


def way_to_people():
    own = alarm("PHONE-UNREACHED", on_delay_s=0.0, off_delay_s=0.0, latching=False)
    return LinkAlarmPlan(name="phone", alarm=own, is_phone=True)


def asked(person=""):
    return Command(
        command_id="t1", kind=CommandKind.TEST_MESSAGE, by="anna", door=Door.COMMAND_LINE, person=person
    )


def test_nobody_reached_is_an_alarm_that_says_who_was_tried():
    shift = Shift(plan(), links=[way_to_people()])

    shift.take(1, LinkChange("phone", True, at(1), ""))
    assert shift.events == []  # that people can be reached is no news

    shift.take(2, LinkChange("phone", False, at(2), WHY))
    (event,) = shift.events
    assert (event.tag, event.link, event.happened) == ("PHONE-UNREACHED", "phone", "raised")
    assert event.facts["detail"] == WHY


def test_the_alarm_ends_once_somebody_is_reached():
    shift = Shift(plan(), links=[way_to_people()])
    shift.take(1, LinkChange("phone", False, at(1), WHY))

    shift.take(9, LinkChange("phone", True, at(9), ""))

    assert shift.events[-1].state is AlarmState.RETURNED_UNACKNOWLEDGED


@pytest.mark.parametrize(
    ("called", "person", "code"),
    [
        ({"anna", "ben"}, "", AnswerCode.DONE),
        ({"anna", "ben"}, "ben", AnswerCode.DONE),
        ({"anna", "ben"}, "cem", AnswerCode.NOBODY_CALLED),
        (set(), "", AnswerCode.NOBODY_CALLED),
    ],
)
def test_a_test_message_goes_to_who_can_be_called(called, person, code):
    shift = Shift(plan(), commands=CommandRules(called=frozenset(called)))

    shift.take(1, asked(person))

    assert shift.answers[-1].code is code
    if code.is_done:
        assert (shift.events[-1].happened, shift.events[-1].facts["to"]) == ("message_test_asked", person)


def test_a_test_message_asked_for_twice_goes_out_once():
    shift = Shift(plan(), commands=CommandRules(called=frozenset({"anna"})))
    shift.take(1, asked("anna"))

    shift.take(2, asked("anna"))
    shift.take(3, replace(asked(), person=""))

    assert [event.happened for event in shift.events].count("message_test_asked") == 1
    assert [answer.code for answer in shift.answers] == [AnswerCode.DONE, AnswerCode.DONE, AnswerCode.ID_REUSED]
