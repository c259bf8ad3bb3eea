"""Charts: which rows are read, which cycles are found in them, and from when until when alarms were active."""

import math
from dataclasses import replace

import pytest

from monitor.figures import StoreFigures
from monitor.interpret.settings import CleaningSettings, CurveSettings
from monitor.tell.page import cleanings
from monitor.tell.page.chart import to_read
from monitor.tell.page.queries import ChartAsked
from monitor.tell.page.source import Tier
from monitor.tell.page.spans import active_spans
from monitor.words import AlarmState, Event, EventKind, HistoryRow, Priority, Reason, Role
from tests.tell import mill

T0 = 1_800_000_000
DAY_S = 86400.0
LONG = StoreFigures(healthy=True, oldest_step_utc_s=0.0, oldest_minute_utc_s=0.0, oldest_hour_utc_s=0.0)


@pytest.mark.parametrize(
    ("span_s", "tier"),
    [(60, Tier.STEPS), (26 * 3600, Tier.STEPS), (27 * 3600, Tier.MINUTES), (20 * DAY_S, Tier.HOURS)],
)
def test_a_wider_chart_reads_coarser_rows(span_s, tier):
    assert to_read(mill.plan(), ChartAsked(T0, T0 + span_s, 600), LONG, 10.0).tier is tier


def test_a_chart_of_what_the_steps_have_forgotten_reads_what_remembers_it():
    asked = ChartAsked(T0, T0 + 3600, 600)
    gone = replace(LONG, oldest_step_utc_s=T0 + 10 * DAY_S)
    assert to_read(mill.plan(), asked, gone, 10.0).tier is Tier.MINUTES
    gone = replace(gone, oldest_minute_utc_s=T0 + 9 * DAY_S)
    assert to_read(mill.plan(), asked, gone, 10.0).tier is Tier.HOURS


def test_a_young_store_is_read_as_finely_as_can_be():
    young = StoreFigures(
        healthy=True, oldest_step_utc_s=T0 + 1810.0, oldest_minute_utc_s=T0 + 1800.0, oldest_hour_utc_s=float(T0)
    )
    assert to_read(mill.plan(), ChartAsked(T0 - 3600, T0 + 3600, 600), young, 10.0).tier is Tier.STEPS
    assert (
        to_read(mill.plan(), ChartAsked(T0, T0 + 3600, 600), StoreFigures(healthy=True), 10.0).tier is Tier.STEPS
    )


def sawtooth(hours: float, step_s: float = 10.0, cycle_s: float = 900.0) -> tuple[list[HistoryRow], list[float]]:
    """A DP that rises from 3 to 5 inH2O and is pulled down within a minute; and when that began."""
    rows, begun = [], []
    for n in range(int(hours * 3600 / step_s)):
        at = n * step_s
        phase = at % cycle_s
        down_s = 60.0
        dp = 3.0 + 2.0 * phase / (cycle_s - down_s) if phase < cycle_s - down_s else 0.0
        if phase >= cycle_s - down_s:
            dp = 5.0 - 2.0 * (phase - cycle_s + down_s) / down_s
            if phase - (cycle_s - down_s) < step_s:
                begun.append(T0 + at)
        dp += 0.02 * math.sin(n * 1.7)
        figures = {"last": dp, "lowest": dp - 0.02, "highest": dp + 0.02, "mean": dp}
        counts = {"good": 10, "uncertain": 0, "bad": 0, "worst": Reason.NONE}
        rows.append(HistoryRow(start_utc_s=T0 + int(at), **figures, **counts))
    return rows, begun


def test_the_cycles_of_a_plain_sawtooth_are_found_where_they_are():
    rows, begun = sawtooth(12.0)
    settings = CurveSettings(cleaning=CleaningSettings(start_inh2o=5.0, stop_inh2o=3.0))
    found = cleanings.found(settings, {Role.DP: rows}, 10.0)
    learnt = [at for at in begun if at >= T0 + cleanings.LEAD_S][:-1]
    assert len(learnt) > 30
    for at in learnt:
        near = [one for one in found if abs(one.begin_utc_s - at) <= 40.0]
        assert len(near) == 1, at - T0
        assert near[0].peak_inh2o == pytest.approx(5.0, abs=0.3)
        assert near[0].residual_inh2o == pytest.approx(3.0, abs=0.3)


def test_without_rows_there_are_no_cycles():
    assert cleanings.found(CurveSettings(), {Role.DP: []}, 10.0) == []


def event(at: float, tag: str, state: AlarmState, **more) -> Event:
    return Event(
        kind=EventKind.ALARM, happened="raised", at_utc_s=at, text="", tag=tag, state=state,
        priority=Priority.HIGH, **more,
    )  # fmt: skip


def test_a_span_lasts_from_the_raising_to_the_return():
    events = [
        event(10.0, "A", AlarmState.UNACKNOWLEDGED),
        event(20.0, "A", AlarmState.ACKNOWLEDGED),
        event(30.0, "B", AlarmState.UNACKNOWLEDGED),
        event(40.0, "A", AlarmState.LATCHED_ACKNOWLEDGED),
        event(50.0, "A", AlarmState.NORMAL),
        event(60.0, "A", AlarmState.UNACKNOWLEDGED),
    ]
    spans = active_spans([], events, 0.0, {})
    assert [(one["tag"], one["from_utc_s"], one["until_utc_s"]) for one in spans] == [
        ("A", 10.0, 40.0), ("B", 30.0, None), ("A", 60.0, None),
    ]  # fmt: skip
    assert {one["priority"] for one in spans} == {"high"}


def test_what_was_active_before_begins_at_the_edge():
    before = [event(1.0, "A", AlarmState.ACKNOWLEDGED), event(2.0, "B", AlarmState.NORMAL)]
    (span,) = active_spans(before, [event(40.0, "A", AlarmState.NORMAL)], 10.0, {})
    assert (span["tag"], span["from_utc_s"], span["until_utc_s"]) == ("A", 10.0, 40.0)


def test_an_alarm_that_is_shelved_is_active_no_longer():
    events = [event(10.0, "A", AlarmState.UNACKNOWLEDGED), event(20.0, "A", AlarmState.SHELVED)]
    assert active_spans([], events, 0.0, {})[0]["until_utc_s"] == 20.0
