"""Where messages wait for one channel: calls for help go first, whatever came before them."""

from monitor.words import Priority
from tests.tell.phone.relay_story import Story, person, settings


def test_a_call_goes_before_notices_that_were_made_earlier():
    story = Story(settings(person("anna"), person("ben"), route={"returns": True}))
    story.raised("PDAHH-201", "DC-201", priority=Priority.URGENT)
    story.until(30)
    story.dead = {("anna", "push")}
    story.acknowledged("PDAHH-201", by="ben")
    story.until(60)
    story.raised("PDAH-101", "DC-101")
    story.until(200)
    story.dead = set()

    assert story.until(600).kinds("anna")[:2] == ["alarm", "alarm"]


def test_a_call_that_waited_is_worded_as_of_when_it_goes_out():
    story = Story(settings(person("anna")))
    story.dead = {("anna", "push")}
    story.raised()
    story.until(3600)
    story.dead = set()
    story.until(7200)
    second, message = story.got[0]

    assert second > 3600
    assert abs(message.at_utc_s - story.utc_s - second) < 60
