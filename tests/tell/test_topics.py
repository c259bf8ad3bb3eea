"""Topics: one place for each thing, and no name that leads to another's."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.tell.topics import Topics, level

TOPICS = Topics("mill/cakewatch")


def test_topics_are_where_the_schema_says():
    assert TOPICS.availability == "mill/cakewatch/availability"
    assert TOPICS.events == "mill/cakewatch/events"
    assert TOPICS.state("DC-101") == "mill/cakewatch/collectors/DC-101/state"
    assert TOPICS.alarm("DC-101", "PDAH-101") == "mill/cakewatch/collectors/DC-101/alarms/PDAH-101"


@given(st.text(min_size=1), st.text(min_size=1))
def test_a_name_is_one_level_and_two_names_never_meet(one, other):
    assert not set(level(one)) & set("/+#\x00")
    assert (level(one) == level(other)) == (one == other)
