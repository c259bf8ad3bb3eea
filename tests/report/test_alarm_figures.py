"""Alarm figures: what the night shift reads, and the same for a machine."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.judge.performance.benchmarks import Verdict
from monitor.judge.performance.measuring import measure
from monitor.judge.performance.span import DAY_S, HOUR_S
from monitor.report.alarm_figures import sections
from monitor.report.alarm_figures_json import as_json
from monitor.report.alarm_figures_notes import length, moment, notes
from monitor.report.alarm_figures_text import text
from monitor.words import Cause, Priority
from tests.judge.story import SHELVED, SUPPRESSED, T0, Story, span

SITE = "Alder Mill"


def busy():
    """Thirty-one days: 31 alarms in an hour, one that chatters, one stale, one cleared unseen, holds."""
    story = Story()
    story.started(-DAY_S)
    for n in range(31):
        story.pulse(HOUR_S + n * 60.0, f"PDAH-{100 + n}", priority=Priority.LOW)
    for n in range(3):
        story.pulse(5 * DAY_S + n * 15.0, "PDAL-140", length_s=5.0)
    story.raised(6 * DAY_S, "PDAH-141")
    story.latched(6 * DAY_S + 60, "PDAH-141")
    story.cleared(6 * DAY_S + 1860, "PDAH-141")
    story.raised(7 * DAY_S, "PDAH-142")
    story.acknowledged(7 * DAY_S + 300, "PDAH-142")
    facts = {"reason": "rewiring the transmitter", "until_utc_s": T0 + 32 * DAY_S}
    story.alarm(30 * DAY_S, "shelved", SHELVED, "PDAH-143", Cause.PERSON, by="anna", facts=facts)
    facts = {"why": "fan_stopped"}
    story.alarm(31 * DAY_S - 60, "suppressed", SUPPRESSED, "PDAH-144", Cause.DESIGN, facts=facts)
    story.system(9 * DAY_S, "command_refused", code="not_allowed")
    return story


def figures(story=None, days=31, **more):
    return measure((story or busy()).events, span(0, days * DAY_S), **more)


def row(found, key):
    return next(one for section in sections(found) for one in section.rows if one.key == key)


@pytest.mark.parametrize(
    ("key", "value", "verdict"),
    [
        ("raised", 36, Verdict.NO_BENCHMARK),
        # 36 alarms in 31 days of 144 periods of 10 minutes.
        ("average_per_10_min", 36 / 31 / 144, Verdict.WITHIN),
        ("average_per_day", 36 / 31, Verdict.WITHIN),
        ("most_in_10_min", 10, Verdict.WITHIN),
        ("most_in_an_hour", 31, Verdict.NO_BENCHMARK),
        # One hour of 744 had more than 30; about one in a hundred may.
        ("hours_above_30_percent", 100 / 744, Verdict.WITHIN),
        ("10_min_above_10_percent", 0, Verdict.WITHIN),
        ("floods", 0, Verdict.NO_BENCHMARK),
        ("advisory_and_low_percent", 100 * 31 / 36, Verdict.WITHIN),
        ("high_percent", 100 * 5 / 36, Verdict.ABOVE),
        ("chattering_alarms", 1, Verdict.ABOVE),
        ("fleeting", 0, Verdict.WITHIN),
        ("active_at_end", 1, Verdict.WITHIN),
        ("stale_at_end", 1, Verdict.WITHIN),
        ("top_ten_percent", 100 * 12 / 36, Verdict.TOO_FEW),
        ("time_to_acknowledge_longest_s", 300, Verdict.NO_BENCHMARK),
        ("cleared_unseen", 1, Verdict.NO_BENCHMARK),
        ("never_acknowledged", 1, Verdict.NO_BENCHMARK),
        ("shelved_at_end", 1, Verdict.WITHIN),
        ("shelved_alarm_s", DAY_S, Verdict.NO_BENCHMARK),
        ("suppressed_by_design_alarm_s", 60, Verdict.NO_BENCHMARK),
        ("commands_refused", 1, Verdict.NO_BENCHMARK),
    ],
)
def test_each_figure_stands_beside_its_verdict(key, value, verdict):
    found = row(figures(), key)
    assert found.value == pytest.approx(value)
    assert found.verdict is verdict


def test_every_verdict_with_a_benchmark_names_its_source():
    for section in sections(figures()):
        for one in section.rows:
            if one.benchmark is not None:
                assert one.benchmark.source.startswith(("ISA-18.2", "EEMUA"))
            else:
                assert one.verdict is Verdict.NO_BENCHMARK


def test_a_night_shift_can_read_it():
    shown = text(figures(), SITE)
    for line in (
        "Alarm figures of Alder Mill",
        "2025-06-15 15:06:40 UTC to 2025-07-16 15:06:40 UTC (31 d)",
        "Watched throughout.",
        "How many, for one operator -----------------------------------------------------",
        "most in any 10 minutes                   10  at most 10 [1]       within",
        "hours with more than 30              0.13 %  at most 1 % [1]      within",
        "high                                13.89 %  at most 5 % [1]      ABOVE",
        "the ten most frequent               33.33 %  1, at most 5 % [1]   too few to say",
        "cleared by timer, never seen              1",
        "the longest took                      5 min",
        "[1] ISA-18.2-2016, table of performance metrics",
        "  PDAL-140 (DC-140): once",
        "  PDAH-141 (DC-141): cleared 2025-06-21 15:37:40 UTC, raised 31 min before",
        "  not allowed: once",
    ):
        assert line in shown.splitlines(), line
    assert "by anna until 2025-07-17 15:06:40 UTC: rewiring the transmitter" in " ".join(shown.split())
    assert "suppressed by design: fan stopped" in " ".join(shown.split())


def test_what_a_flood_was_is_told():
    story = Story()
    story.started()
    for n in range(15):
        story.pulse(100.0 + n, f"PDAH-{100 + n}")
    shown = text(figures(story, 1), SITE)
    # The eleventh comes at 110; four remain when the eleventh leaves at 710.
    assert "  2025-06-15 15:08:30 UTC, 10 min: 15 alarms, 15 in the worst 10 minutes" in shown.splitlines()


def test_a_long_list_is_cut_in_the_text_and_whole_in_the_json():
    story = Story()
    story.started()
    for n in range(20):
        story.raised(n * 1000.0, f"PDAH-{100 + n}")
    found = figures(story, 1)
    assert "  and 5 more (--json has all)" in text(found, SITE).splitlines()
    assert len(as_json(found, SITE)["not_acknowledged"]) == 20


@pytest.mark.parametrize(
    ("story", "days", "more", "sentence"),
    [
        (Story(), 30, {}, "Nobody watched in this period"),
        (busy(), 29, {}, "Fewer than 30 days are covered, and ISA-18.2-2016 asks for 30"),
        (busy(), 31, {"operators": 2}, "taken to be shared evenly among 2 operators"),
        (busy(), 40, {"alive_until_utc_s": T0 + 31 * DAY_S}, "Watched for 31 d of 40 d (77.5 %)"),
        (busy(), 40, {"alive_until_utc_s": T0 + 31 * DAY_S}, "averages and shares are of the watched time alone"),
    ],
)
def test_what_must_be_known_before_anybody_believes_it_is_said_first(story, days, more, sentence):
    said = " ".join(notes(figures(story, days, **more)))
    assert sentence in said
    assert sentence in " ".join(text(figures(story, days, **more), SITE).split())


def test_a_journal_that_begins_late_and_a_watch_that_ended_without_a_word_are_told():
    story = Story()
    story.pulse(HOUR_S)
    story.started(2 * HOUR_S)
    said = " ".join(notes(figures(story, 1)))
    assert f"The journal begins at {moment(T0 + HOUR_S)}" in said
    assert "The watch ended without a word once" in said


def test_a_period_in_which_nobody_watched_has_no_verdicts_to_show():
    shown = text(figures(Story(), 1), SITE)
    assert "average in an hour                        -  6, at most 12 [1]    not known" in shown.splitlines()


def test_the_json_says_the_same_and_is_plain_json():
    found = figures()
    shown = json.loads(json.dumps(as_json(found, SITE), allow_nan=False))
    assert shown["since"] == "2025-06-15T15:06:40.000Z"
    assert shown["watched_s"] == 31 * DAY_S
    assert {key: one["value"] for key, one in shown["figures"].items()} == {
        one.key: None if one.value is None else pytest.approx(one.value, rel=1e-5)
        for section in sections(found)
        for one in section.rows
    }
    assert shown["figures"]["average_per_hour"]["benchmark"] == {
        "acceptable": 6,
        "manageable": 12,
        "kind": "at_most",
        "source": "ISA-18.2-2016, table of performance metrics",
    }
    assert shown["cleared_unseen"] == [
        {
            "tag": "PDAH-141",
            "place": "DC-141",
            "raised": "2025-06-21T15:06:40.000Z",
            "cleared": "2025-06-21T15:37:40.000Z",
        }
    ]
    assert [one["state"] for one in shown["held"]] == ["shelved", "suppressed_by_design"]
    assert shown["refused"] == {"not_allowed": 1}


NAMES = st.text(st.characters(categories=("L", "N", "P", "Zs")), min_size=1, max_size=120)


@given(NAMES, NAMES, st.floats(0, 40 * DAY_S), st.integers(1, 50))
def test_no_line_is_wider_than_80_columns(tag, site, at_s, times):
    story = Story()
    story.started()
    for n in range(times):
        story.pulse(at_s + n * 7.0, tag, length_s=3.0)
    story.raised(at_s + 3600, tag)
    found = measure(story.events, span(0, 45 * DAY_S), operators=times)
    assert max(map(len, text(found, site).splitlines())) <= 80


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (119.4, "119 s"),
        (120, "2 min"),
        (519, "8 min 39 s"),
        (3600, "60 min"),
        (7200, "2 h"),
        (7260, "2 h 1 min"),
        (2 * 86400, "2 d"),
        (31 * 86400 + 3600, "31 d 1 h"),
    ],
)
def test_lengths_are_written_as_people_say_them(seconds, words):
    assert length(seconds) == words
