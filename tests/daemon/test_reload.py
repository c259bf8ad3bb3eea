"""What becomes of alarms and readings when the site file changes under a running daemon."""

from dataclasses import replace

from monitor.daemon.reload import carry_over
from monitor.judge.settings import Side
from monitor.scan.settings import PlantPlan
from monitor.scan.state import PlantState
from monitor.scan.turn import begin, turn
from monitor.words import AlarmState, Cause, Role
from tests.scan.plans import DP, at, band, dp_scan, plan


def in_alarm(*plans):
    """Every collector with its PDAH raised."""
    named = {one.name: one for one in plans}
    state = begin(plant(named), at(0))
    for second in range(4):
        for one in plans:
            state = turn(plant(named), state, dp_scan(second, 7.5, one.name), at(second)).onto(state)
    return named, state.collectors


def plant(plans):
    return PlantPlan(collectors=plans)


def carried_over(old, states, new, now):
    """The collectors alone of what goes on."""
    state, ended = carry_over(plant(old), PlantState(states), plant(new), now)
    return state.collectors, ended


def test_an_untouched_collector_keeps_its_very_state():
    old, states = in_alarm(plan(), plan("DC-102", "102"))
    new = {"DC-101": plan(), "DC-102": replace(plan("DC-102", "102"), description="moved")}

    carried, ended = carried_over(old, states, new, at(10))

    assert carried["DC-101"] is states["DC-101"]
    assert ended == []


def test_a_changed_set_point_keeps_the_alarm_and_its_history():
    old, states = in_alarm(plan())
    new = {"DC-101": plan(bands=(band("PDAH-101", Side.ABOVE, 8.0),))}

    carried, ended = carried_over(old, states, new, at(10))
    alarm = carried["DC-101"].watch.alarms["PDAH-101"]

    assert alarm.state is AlarmState.UNACKNOWLEDGED
    assert alarm.raised_utc_s == states["DC-101"].watch.alarms["PDAH-101"].raised_utc_s
    assert carried["DC-101"].readings[Role.DP] == states["DC-101"].readings[Role.DP]
    assert ended == []


def test_a_band_taken_out_ends_its_alarm_with_the_reason():
    old, states = in_alarm(plan())
    new = {"DC-101": plan(bands=(band("PDAL-101", Side.BELOW, 2.0),))}

    _, (ended,) = carried_over(old, states, new, at(10))

    assert (ended.tag, ended.happened, ended.cause) == ("PDAH-101", "removed", Cause.SITE_FILE)
    assert (ended.state_before, ended.state) == (AlarmState.UNACKNOWLEDGED, AlarmState.NORMAL)


def test_a_renamed_collector_finds_its_alarms_again_by_their_tags():
    old, states = in_alarm(plan())
    renamed = replace(plan(), name="DC-901")

    carried, ended = carried_over(old, states, {"DC-901": renamed}, at(10))

    assert ended == []
    alarm, before = carried["DC-901"].watch.alarms["PDAH-101"], states["DC-101"].watch.alarms["PDAH-101"]
    assert (alarm.state, alarm.raised_utc_s) == (before.state, before.raised_utc_s)


def test_a_collector_taken_out_ends_its_alarms_too():
    old, states = in_alarm(plan(), plan("DC-102", "102"))

    carried, ended = carried_over(old, states, {"DC-101": plan()}, at(10))

    assert list(carried) == ["DC-101"]
    assert [event.tag for event in ended] == ["PDAH-102"]


def test_a_point_read_from_elsewhere_forgets_its_reading_and_keeps_the_alarms():
    old, states = in_alarm(plan())
    moved = plan(dp=replace(DP, stale_after_s=9.0))

    carried, _ = carried_over(old, states, {"DC-101": moved}, at(10))

    assert carried["DC-101"].readings[Role.DP].value is None
    assert carried["DC-101"].watch.alarms["PDAH-101"].state is AlarmState.UNACKNOWLEDGED


def test_a_new_collector_begins_unread():
    old, states = in_alarm(plan())

    carried, _ = carried_over(old, states, {"DC-101": plan(), "DC-103": plan("DC-103", "103")}, at(10))

    assert carried["DC-103"].readings[Role.DP].value is None
