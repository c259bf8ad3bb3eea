"""A flood: the last message that the window allows tells how many alarms there are."""

from monitor.tell.phone import relay
from monitor.words import Priority
from tests.tell.phone.relay_story import Story, person, settings

ALARMS = 60


def flooded(count=ALARMS, **more):
    """So many collectors alarm at once; none shares its cause with another."""
    numbers = range(count)
    story = Story(
        settings(person("anna"), areas={}, link_collectors={}, flood_messages=8, flood_window_s=600.0, **more)
    )
    for number in numbers:
        story.raised(f"PDAH-{number}", f"DC-{number}")
    return story.until(120)


def test_the_eighth_message_of_sixty_alarms_bears_the_count():
    story = flooded()

    assert story.kinds("anna") == ["alarm"] * 7 + ["held_back"]
    last = story.got[-1][1]
    assert len(last.alarms) + last.held_back == ALARMS - 7


def test_it_comes_at_once_and_not_when_the_window_is_over():
    assert flooded().got[-1][0] < 60


def test_eight_alarms_are_told_one_by_one():
    assert flooded(8).kinds("anna") == ["alarm"] * 8


def test_an_urgent_one_still_comes_alone_behind_it():
    story = flooded()
    story.raised("PDAHH-1", "DC-1x", priority=Priority.URGENT)

    assert story.until(130).kinds("anna")[-1] == "alarm"


def test_every_alarm_of_the_flood_was_delivered():
    story = flooded()

    assert len(story.delivered_ids()) == ALARMS


def test_what_flood_control_holds_is_not_unreached_once_the_gateways_are_well():
    own = settings(person("anna"), areas={}, link_collectors={}, flood_messages=3, flood_window_s=3600.0)
    story = Story(own)
    story.dead = {("anna", "push")}
    for number in range(3):
        story.raised(f"PDAH-{number}", f"DC-{number}")
        story.after(120)
    assert relay.unreached(story.state)
    for number in range(3, 8):
        story.raised(f"PDAH-{number}", f"DC-{number}")
        story.after(1)
    story.after(120)

    story.dead = set()
    story.after(900)

    assert relay.unreached(story.state) == ""
    assert story.kinds("anna")
