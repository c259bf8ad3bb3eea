"""The usual order: called, acknowledged, repaired, back to normal; and who hears of the last of it."""

import pytest

from monitor.words import AlarmState, Cause
from tests.tell.phone.relay_story import Story, person, settings, step

RETURNS = {"returns": True}


def called_and_acknowledged(own):
    story = Story(own)
    story.raised()
    story.until(60)
    story.acknowledged(by="anna")
    return story.until(120)


def both(**more):
    return settings(person("anna"), person("ben", **more), steps=(step(0, "anna", "ben"),), route=RETURNS)


@pytest.mark.parametrize(
    "event",
    [
        {"what": "cleared", "cause": Cause.PROCESS},
        {"what": "latched", "state": AlarmState.LATCHED_ACKNOWLEDGED, "cause": Cause.PROCESS},
    ],
    ids=["without a latch", "into a latch"],
)
def test_the_return_of_an_acknowledged_alarm_is_told_to_those_who_were_called(event):
    story = called_and_acknowledged(both())
    story.happened(**event)

    assert story.until(180).kinds("anna") == ["alarm", "returned"]
    assert story.kinds("ben") == ["alarm", "acknowledged", "returned"]
    assert story.got[-1][1].alarms[0].acknowledged_by == "anna"
    assert story.got[-1][1].alarms[0].returned_utc_s is not None


def test_it_is_told_once():
    story = called_and_acknowledged(both())
    story.happened("latched", state=AlarmState.LATCHED_ACKNOWLEDGED, cause=Cause.PROCESS)
    story.until(180)
    story.happened("cleared", cause=Cause.TIMER)

    assert story.until(240).kinds("anna").count("returned") == 1


def test_it_is_told_after_a_kill_too():
    story = called_and_acknowledged(both())
    story.killed()
    story.happened("cleared", cause=Cause.PROCESS)

    assert "returned" in story.until(180).kinds("anna")


def test_who_does_not_want_to_hear_of_returns_does_not():
    story = called_and_acknowledged(both(returns=False))
    story.happened("cleared", cause=Cause.PROCESS)

    assert "returned" not in story.until(180).kinds("ben")


def test_a_route_that_tells_no_returns_tells_none():
    story = called_and_acknowledged(settings(person("anna")))
    story.happened("cleared", cause=Cause.PROCESS)

    assert "returned" not in story.until(180).kinds()


@pytest.mark.parametrize("what", ["shelved", "taken_out_of_service", "removed"])
def test_an_alarm_that_was_put_aside_has_no_return(what):
    story = called_and_acknowledged(both())
    story.happened(what, by="ben", cause=Cause.PERSON)
    story.until(180)
    story.happened("cleared", cause=Cause.PROCESS)

    assert "returned" not in story.until(240).kinds()


def test_who_was_never_reached_hears_of_no_return():
    story = Story(both())
    story.dead = {("ben", "push")}
    story.raised()
    story.until(2)
    story.acknowledged(by="anna")
    story.dead = set()
    story.until(60)
    story.happened("cleared", cause=Cause.PROCESS)

    assert story.until(120).kinds("ben") == []
