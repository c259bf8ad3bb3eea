"""Queries: every question is understood, or answered with a sentence."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.tell.page import queries

NOW = 1_800_000_000.0


def test_without_a_word_a_chart_is_of_the_last_eight_hours():
    assert queries.chart_asked([], NOW) == queries.ChartAsked(NOW - 8 * 3600, NOW, 600)


@pytest.mark.parametrize(
    "query",
    [
        [("from_utc_s", "now")],
        [("from_utc_s", "nan")],
        [("from_utc_s", "1e400")],
        [("from_utc_s", "-5")],
        [("from_utc_s", "1_000")],
        [("from_utc_s", "٣")],
        [("from_utc_s", "1800000000")],
        [("from_utc_s", "1799999990"), ("until_utc_s", "1800000000")],
        [("from_utc_s", "1"), ("until_utc_s", "1800000000")],
        [("points", "49")],
        [("points", "2001")],
        [("points", "6e2")],
        [("points", "100"), ("points", "100")],
        [("span", "1")],
    ],
)
def test_a_chart_that_cannot_be_drawn_is_refused_in_a_sentence(query):
    with pytest.raises(ValueError, match=r"must|can be asked"):
        queries.chart_asked(query, NOW)


@pytest.mark.parametrize(
    "query",
    [
        [("before_seq", "0")],
        [("before_seq", "9223372036854775808")],
        [("limit", "501")],
        [("limit", "")],
        [("collector", "A"), ("collector", "B")],
        [("tag", "A")],
    ],
)
def test_events_that_cannot_be_found_are_refused_in_a_sentence(query):
    with pytest.raises(ValueError, match=r"must|can be asked"):
        queries.events_asked(query)


def test_events_are_asked_by_collector_number_and_count():
    asked = queries.events_asked([("collector", "DC-101"), ("before_seq", "7"), ("limit", "3")])
    assert asked == queries.EventsAsked("DC-101", 7, 3)


def test_trends_are_asked_by_collectors_each_once():
    assert queries.collectors_asked([("collector", "A"), ("collector", "B"), ("collector", "A")]) == ["A", "B"]
    with pytest.raises(ValueError, match="collector"):
        queries.collectors_asked([("name", "A")])


WORDS = st.sampled_from(["from_utc_s", "until_utc_s", "points", "collector", "before_seq", "limit", "x"])


@given(query=st.lists(st.tuples(WORDS, st.one_of(st.text(max_size=8), st.integers().map(str)))))
def test_no_question_brings_anything_but_an_answer_or_a_sentence(query):
    for ask in (lambda q: queries.chart_asked(q, NOW), queries.events_asked, queries.collectors_asked):
        with suppress(ValueError):
            ask(query)
