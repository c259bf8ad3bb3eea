"""The alarms as Prometheus sees them: nine states, held ones counted, links beside collectors."""

import pytest

from monitor.judge.alarm import Alarm
from monitor.judge.table import ACTIVE, HELD, WAITING
from monitor.scan.settings import LinkAlarmPlan
from monitor.tell import series_alarms
from monitor.tell.plant_view import PlantView
from monitor.words import AlarmState, Priority
from tests.tell.mill import NOW, active, alarm, latched, plan, state

LINK = LinkAlarmPlan(name="mill", alarm=alarm("mill-LOST", Priority.URGENT))


def view(alarms=None, link=None):
    one = plan()
    return PlantView(
        {one.name: one},
        {one.name: state(one, alarms=alarms)},
        {},
        NOW,
        {} if link is None else {"mill": LINK},
        {} if link is None else {"mill": link},
    )


def values(family, label):
    return {sample.labels[label]: sample.value for sample in family.samples}


def test_every_state_has_a_number_of_its_own():
    assert set(series_alarms.STATE_NUMBER) == set(AlarmState)
    assert len(set(series_alarms.STATE_NUMBER.values())) == len(AlarmState)


@pytest.mark.parametrize("name", AlarmState)
def test_the_number_alone_says_whether_an_alarm_is_active_waits_or_is_held(name):
    shown = values(series_alarms.alarm_state(view({"PDAH-101": Alarm(state=name)})), "tag")["PDAH-101"]

    assert (shown >= 4) == (name in ACTIVE)
    assert (0 < shown < 4) == (name in WAITING)
    assert (shown < 0) == (name in HELD)


def test_the_alarm_of_a_link_stands_beside_those_of_the_collectors():
    family = series_alarms.alarm_state(view(link=active()))

    assert {frozenset(sample.labels) for sample in family.samples} == {
        frozenset({"collector", "tag", "priority"}),
        frozenset({"link", "tag", "priority"}),
    }
    assert values(family, "tag")["mill-LOST"] == 5


def test_the_active_alarms_of_a_site_include_those_of_its_links():
    family = series_alarms.active_alarms(view({"PDAH-101": active(), "PDAL-101": latched()}, link=active()))

    assert values(family, "priority") == {"high": 1, "low": 0, "medium": 0, "urgent": 1}


def test_held_alarms_are_counted_by_how_they_are_held():
    alarms = {"PDAH-101": Alarm(state=AlarmState.SHELVED), "PDAL-101": Alarm(state=AlarmState.SHELVED)}
    family = series_alarms.held_alarms(view(alarms, link=Alarm(state=AlarmState.OUT_OF_SERVICE)))

    assert values(family, "state") == {"shelved": 2, "suppressed_by_design": 0, "out_of_service": 1}


def test_a_held_alarm_shows_whether_its_condition_is_there_and_others_do_not():
    alarms = {
        "PDAH-101": Alarm(state=AlarmState.SHELVED, stands=True),
        "PDAL-101": Alarm(state=AlarmState.OUT_OF_SERVICE),
        "PDT-101-BAD": active(),
    }

    assert values(series_alarms.alarm_held_standing(view(alarms)), "tag") == {"PDAH-101": 1, "PDAL-101": 0}
