"""What a rehearsal tells is what happened: raisings, strips, curves, tables and pictures."""

import json
import xml.etree.ElementTree as ET
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.report import chart_svg
from monitor.report.chart_axis import time_ticks, value_ticks
from monitor.report.rehearsal import AlarmLine, Change, CollectorStory, Ending, Rehearsal, Sight
from monitor.report.rehearsal_curve import MAX_BINS, CurveKeeper
from monitor.report.rehearsal_json import as_json
from monitor.report.rehearsal_log import RaisingLog
from monitor.report.rehearsal_page import page
from monitor.report.rehearsal_strip import MARKS, spans, strip
from monitor.report.rehearsal_summary import headline, tally_rows
from monitor.report.rehearsal_words import duration, ending
from monitor.words import AlarmState, Cause, Event, EventKind, Priority

UTC = 1_772_352_000.0
UNACK, LATCHED, NORMAL = AlarmState.UNACKNOWLEDGED, AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.NORMAL
SUPPRESSED = AlarmState.SUPPRESSED_BY_DESIGN


def event(at_s, happened, state, cause=Cause.PROCESS, tag="PDAH-101", value=7.2):
    return Event(
        kind=EventKind.ALARM,
        happened=happened,
        at_utc_s=UTC + at_s,
        text="",
        collector="DC-101",
        tag=tag,
        priority=Priority.HIGH,
        state=state,
        cause=cause,
        value=value,
    )


def log_of(*events):
    log = RaisingLog()
    for one in events:
        log.take(one)
    return log


def test_a_raising_begins_active_and_ends_when_it_is_cleared():
    log = log_of(event(0, "raised", UNACK))
    log.see(6.9, 8.1)
    log.take(event(60, "latched", LATCHED))
    log.see(2.0, 9.9)
    log.take(event(100, "cleared", NORMAL, Cause.TIMER))

    (one,) = log.raisings()
    assert (one.raised_utc_s, one.back_utc_s, one.ended_utc_s) == (UTC, UTC + 60, UTC + 100)
    assert one.ending is Ending.TIMER
    assert (one.lowest_inh2o, one.highest_inh2o) == (6.9, 8.1)


@pytest.mark.parametrize(
    ("events", "endings"),
    [
        ([event(0, "raised", UNACK)], [Ending.STILL_ACTIVE]),
        ([event(0, "raised", UNACK), event(5, "latched", LATCHED)], [Ending.WAITING]),
        (
            [event(0, "raised", UNACK), event(5, "latched", LATCHED), event(9, "raised", UNACK)],
            [Ending.RAISED_AGAIN, Ending.STILL_ACTIVE],
        ),
        ([event(0, "raised", UNACK), event(5, "cleared", NORMAL)], [Ending.PROCESS]),
        ([event(0, "raised", UNACK), event(5, "cleared", NORMAL, Cause.PERSON)], [Ending.PERSON]),
        ([event(0, "raised", UNACK), event(5, "suppressed", SUPPRESSED, Cause.DESIGN)], [Ending.DESIGN]),
        (
            [
                event(0, "raised", UNACK),
                event(5, "suppressed", SUPPRESSED, Cause.DESIGN),
                event(9, "released", UNACK, Cause.DESIGN),
            ],
            [Ending.STILL_ACTIVE],
        ),
        (
            [
                event(0, "raised", UNACK),
                event(5, "suppressed", SUPPRESSED, Cause.DESIGN),
                event(9, "released", UNACK, Cause.DESIGN),
                event(9, "latched", LATCHED),
            ],
            [Ending.WAITING],
        ),
    ],
)
def test_every_raising_says_what_ended_it(events, endings):
    assert [one.ending for one in log_of(*events).raisings()] == endings


def test_the_strip_shows_the_gravest_state_of_each_column():
    changes = (Change(UTC + 10, UNACK), Change(UTC + 11, LATCHED), Change(UTC + 50, NORMAL))

    states = strip(changes, UTC, UTC + 100, 10)

    assert [MARKS[state] for state in states] == list("·█▄▄▄·····")


def test_a_moment_of_alarm_is_seen_in_a_year():
    changes = (Change(UTC + 1000, UNACK), Change(UTC + 1000.5, NORMAL))

    assert UNACK in strip(changes, UTC, UTC + 365 * 86400, 60)
    assert len(spans(changes, UTC, UTC + 365 * 86400)) == 1


@given(
    st.lists(st.tuples(st.floats(0.0, 5000.0), st.floats(-5, 15)), min_size=1, max_size=300),
    st.integers(1, 60),
)
def test_no_peak_is_lost_in_a_curve_however_long(steps, columns):
    keeper, at_s = CurveKeeper(UTC), UTC
    for step_s, value in steps:
        at_s += step_s
        keeper.add((at_s,), (value,))
    curve = keeper.curve()
    seen = curve.resampled(UTC, at_s + 1, columns)

    values = [value for _, value in steps]
    for one in (curve, seen):
        assert max(high for high in one.highest if high is not None) == max(values)
        assert min(low for low in one.lowest if low is not None) == min(values)
    assert len(curve.lowest) <= MAX_BINS


def test_samples_given_together_or_singly_make_the_same_curve():
    moments = [UTC + 3.7 * at for at in range(5000)]
    values = [float(at * 7919 % 1000) for at in range(5000)]
    singly, together = CurveKeeper(UTC), CurveKeeper(UTC)
    for moment, value in zip(moments, values, strict=True):
        singly.add((moment,), (value,))
    for begun in range(0, 5000, 700):
        together.add(moments[begun : begun + 700], values[begun : begun + 700])

    assert together.curve() == singly.curve()


def test_blindness_is_kept_as_a_share_of_each_bin():
    keeper = CurveKeeper(UTC)
    keeper.add_blind(UTC + 1.5, UTC + 3.0)

    assert keeper.curve().blind == pytest.approx((0.0, 0.5, 1.0, 0.0))


@given(st.floats(-5, 5), st.floats(0.01, 100), st.integers(2, 10))
def test_round_values_lie_inside_and_are_not_too_many(low, span, most):
    ticks = value_ticks(low, low + span, most)

    assert len(ticks) <= most + 1
    assert all(low - 1e-6 <= tick <= low + span + 1e-6 for tick in ticks)


@given(st.floats(1e9, 2e9), st.floats(10, 3e7), st.integers(2, 14))
def test_round_moments_lie_inside_and_are_not_too_many(begins, span, most):
    ticks = time_ticks(begins, begins + span, most)

    assert len(ticks) <= most + 1
    assert all(begins <= at <= begins + span for at, _ in ticks)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (119, "119 s"),
        (120, "2 min"),
        (3600 * 2, "2 h"),
        (7500, "2 h 5 min"),
        (4 * 86400 + 3600, "4 d 1 h"),
    ],
)
def test_a_length_of_time_is_short(seconds, words):
    assert duration(seconds) == words


def rehearsal(file="site.yaml", times=1):
    events = []
    for number in range(times):
        at_s = 600.0 * number
        events += [event(at_s, "raised", UNACK), event(at_s + 300, "cleared", NORMAL, Cause.TIMER)]
    log, keeper = log_of(*events), CurveKeeper(UTC)
    keeper.add([UTC + at for at in range(3600)], [4.0 + at / 900 for at in range(3600)])
    line = AlarmLine(
        tag="PDAH-101",
        priority=Priority.HIGH,
        side="above",
        judged="damped",
        setpoint_inh2o=7.0,
        on_delay_s=15.0,
        changes=tuple(log.changes.get("PDAH-101", ())),
    )
    story = CollectorStory(
        name="DC-101",
        description="<planer> & sons",
        alarms=(line,),
        raisings=log.raisings(),
        curve=keeper.curve(),
        sight=Sight(samples=3600),
    )
    return Rehearsal(
        site="Alder Mill",
        file=file,
        begins_utc_s=UTC,
        ends_utc_s=UTC + 3600,
        collectors={"DC-101": story},
        notes=("a note",),
    )


def test_the_headline_says_how_many_instead_of_how_many():
    assert headline([rehearsal(times=3)]) == "With site.yaml you would have had 3 alarms."
    assert headline([rehearsal("new.yaml", 0), rehearsal("old.yaml", 6)]) == (
        "With the set points of new.yaml you would have had no alarm instead of 6 with old.yaml."
    )


def test_an_alarm_that_only_one_of_the_files_has_is_in_the_table_too():
    new, old = rehearsal("new.yaml", 1), rehearsal("old.yaml", 3)
    story = new.collectors["DC-101"]
    new = replace(new, collectors={"DC-101": replace(story, alarms=(), raisings=())})

    (row,) = tally_rows([new, old])

    assert (row.tallies[0].setting, row.tallies[0].raised) == ("", 0)
    assert (row.tallies[1].raised, row.tallies[1].active_s) == (3, 900.0)


def test_an_end_on_another_day_shows_its_date():
    (one,) = log_of(event(0, "raised", UNACK), event(86400, "cleared", NORMAL, Cause.TIMER)).raisings()

    assert ending(one) == "timer 03-02 08:00:00"


@pytest.mark.parametrize("width", [320.0, 360.0, 1040.0, 2000.0])
def test_the_picture_is_well_formed_and_stays_inside_its_frame(width):
    root = ET.fromstring(chart_svg.svg([rehearsal(times=3), rehearsal("old.yaml", 6)], width))

    rects = [one for one in root.iter() if one.tag.endswith("rect") and "x" in one.attrib]
    assert len(rects) > 9
    assert all(
        float(one.get("x")) >= -1 and float(one.get("x")) + float(one.get("width")) <= width for one in rects
    )
    titles = [one.text for one in root.iter() if one.tag.endswith("title")]
    assert any("PDAH-101 active 2026-03-01 08:00:00 for 5 min" in title for title in titles)


def test_the_page_needs_nothing_else_and_is_light_and_dark():
    text = page([rehearsal(times=3), rehearsal("old.yaml", 6)])
    tags = []
    reader = HTMLParser()
    reader.handle_starttag = lambda tag, attributes: tags.append(tag)
    reader.feed(text)

    assert {"script", "link", "img", "iframe"}.isdisjoint(tags)
    assert "http" not in text.replace("http-equiv", "")
    assert "prefers-color-scheme: dark" in text
    assert "&lt;planer&gt; &amp; sons" in text
    assert "<planer>" not in text


def test_the_json_is_json_and_counts_the_same():
    found = json.loads(json.dumps(as_json([rehearsal(times=3)])))

    assert found["rehearsals"][0]["alarms"] == 3
    assert len(found["rehearsals"][0]["collectors"][0]["raisings"]) == 3
    assert found["rehearsals"][0]["collectors"][0]["raisings"][0]["ending"] == "timer"
