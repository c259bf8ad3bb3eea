"""The alarm of a link: who is called for any collector behind it is called for it."""

from monitor.tell.phone.settings import Route
from tests.tell.phone.relay_story import Story, person, settings, step

BOTH = {"L1": frozenset({"DC-101", "DC-201"}), "L2": frozenset({"DC-201"})}


def yards(**north):
    routes = (
        Route(name="north", areas=frozenset({"mill"}), steps=(step(0, "anna"), step(60, "cleo")), **north),
        Route(name="south", areas=frozenset({"yard"}), steps=(step(0, "ben"),)),
    )
    return settings(person("anna"), person("ben"), person("cleo"), routes=routes, link_collectors=BOTH)


def test_a_gateway_of_two_areas_calls_the_people_of_both():
    story = Story(yards())
    story.raised("L1-LOST", link="L1")

    assert {name for name, _, _ in story.until(30).told()} == {"anna", "ben"}
    assert story.until(90).kinds("cleo") == ["escalation"]


def test_a_gateway_of_one_area_calls_its_people_alone():
    story = Story(yards())
    story.raised("L2-LOST", link="L2")

    assert {name for name, _, _ in story.until(90).told()} == {"ben"}


def test_one_acknowledgement_is_enough_for_all():
    story = Story(yards())
    story.raised("L1-LOST", link="L1")
    story.until(30)
    story.acknowledged("L1-LOST", by="ben")

    assert story.until(3600).kinds("cleo") == []
    assert story.kinds("anna") == ["alarm", "acknowledged"]


def test_it_goes_on_after_a_kill():
    story = Story(yards())
    story.raised("L1-LOST", link="L1")
    story.until(30)
    story.killed()

    assert story.until(90).kinds("cleo") == ["escalation"]


def test_returns_are_told_where_one_of_the_routes_tells_them():
    story = Story(yards(returns=True))
    story.raised("L1-LOST", link="L1")
    story.until(30)
    story.returned("L1-LOST", link="L1")

    assert "returned" in story.until(60).kinds("ben")
