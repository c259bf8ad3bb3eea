"""Backfill: a page that is opened after a restart shows what was before it."""

from dataclasses import replace

import pytest

from monitor.interpret.settings import CleaningSettings, CurveSettings
from monitor.tell.page import backfill
from monitor.tell.page.trends import COUNT, STEP_S
from monitor.words import AlarmState, Event, EventKind, PointId, Priority, Role
from tests.tell.page.test_chart import sawtooth
from tests.tell.page.yard import NOW, Yard, later

pytestmark = pytest.mark.anyio


def after(hours: float) -> Yard:
    """A yard of which so many hours are in the history."""
    yard = Yard()
    curve = CurveSettings(cleaning=CleaningSettings(start_inh2o=5.0, stop_inh2o=3.0))
    yard.plans["DC-101"] = replace(yard.plans["DC-101"], curve=curve)
    rows, _ = sawtooth(hours)
    yard.rows = {PointId("DC-101", Role.DP): rows}
    yard.at = later(rows[-1].start_utc_s - NOW.utc_s + 10.0)
    for name in yard.plans:
        yard.reads(name, 4.0)
    return yard


async def filled(yard: Yard, monkeypatch) -> dict:
    monkeypatch.setattr(backfill, "REST", 0.0)
    await backfill.backfill(yard.page)
    return yard.page.trends.payload(yard.plans, yard.at.utc_s)["collectors"]


async def test_figures_and_cleanings_of_the_last_hours_are_there(monkeypatch):
    found = (await filled(after(12.0), monkeypatch))["DC-101"]
    lows, highs = found["low"][1:-1], found["high"][1:-1]
    assert all(2.9 < low < high < 5.1 for low, high in zip(lows, highs, strict=True))
    # One every fifteen minutes is one in every third piece.
    assert abs(sum(found["cleanings"]) - COUNT / 3) <= 2
    assert found["blind"] == [0] * COUNT


async def test_an_alarm_that_stood_is_marked_in_every_piece_it_stood(monkeypatch):
    yard = after(9.0)
    begin = yard.at.utc_s - 10 * STEP_S
    fields = {"kind": EventKind.ALARM, "text": "", "collector": "DC-101", "tag": "PDAH-101"}
    fields |= {"priority": Priority.HIGH}
    yard.events = [
        Event(happened="raised", at_utc_s=begin, seq=1, state=AlarmState.UNACKNOWLEDGED, **fields),
        Event(happened="cleared", at_utc_s=begin + 4 * STEP_S, seq=2, state=AlarmState.NORMAL, **fields),
    ]
    alarm = (await filled(yard, monkeypatch))["DC-101"]["alarm"]
    assert alarm[-11:-6] == ["high"] * 5
    assert set(alarm[:-11] + alarm[-6:]) == {None}


async def test_a_disk_that_does_not_answer_leaves_the_trends_to_begin_now(monkeypatch):
    yard = after(9.0)
    yard.is_disk_gone = True
    found = (await filled(yard, monkeypatch))["DC-101"]
    assert found["low"][:-1] == [None] * (COUNT - 1)
    assert found["low"][-1] == 4.0
