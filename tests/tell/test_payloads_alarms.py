"""Held alarms, alarms of links and the list of all, as machines get them and judged by the published schema."""

from dataclasses import replace

import pytest

from monitor.judge.alarm import Alarm
from monitor.scan.settings import LinkAlarmPlan, PlantPlan
from monitor.tell import payloads
from monitor.words import AlarmState, Hold, HoldReason, Priority, Removal, Shelf
from tests.tell.mill import BAD, NOW, SITE, active, alarm, latched, plan, state
from tests.tell.test_payloads import check

SHELF = Shelf(5000.0, 1_800_007_200.0, "anna", "filter change", 1_800_000_000.0)
REMOVAL = Removal("ben", "calibration", 1_800_000_000.0)
HOLD = Hold(HoldReason.CONSEQUENCE, "PDAHH-101")

SHELVED = Alarm(state=AlarmState.SHELVED, stands=True, shelf=SHELF, since_utc_s=NOW.utc_s)
REMOVED = Alarm(state=AlarmState.OUT_OF_SERVICE, removal=REMOVAL, since_utc_s=NOW.utc_s)
SUPPRESSED = Alarm(state=AlarmState.SUPPRESSED_BY_DESIGN, stands=True, hold=HOLD, since_utc_s=NOW.utc_s)

LINK = LinkAlarmPlan(name="mill", alarm=alarm("mill-LOST", Priority.HIGH), units=frozenset({1, 2}))


def one_alarm(alarm):
    here = state(plan(), alarms={"PDAH-101": alarm})
    return check("alarm_state", payloads.alarm_state(SITE, plan(), here, "PDAH-101", NOW))


def listed(alarms=None, dp=None, link=None):
    one = plan()
    here = state(one, dp, alarms=alarms) if dp else state(one, alarms=alarms)
    plant = PlantPlan(collectors={one.name: one}, links={} if link is None else {"mill": LINK})
    found = payloads.alarm_list(SITE, plant, {one.name: here}, {} if link is None else {"mill": link}, NOW)
    for each in found:
        check("alarm_state", {key: value for key, value in each.items() if key not in ("value", "behind")})
    return found


def test_a_shelved_alarm_tells_until_when_by_whom_and_why_and_that_its_condition_is_there():
    told = one_alarm(SHELVED)

    assert told["shelved"] == {
        "until": "2027-01-15T10:00:00.000Z",
        "by": "anna",
        "reason": "filter change",
        "since": "2027-01-15T08:00:00.000Z",
    }
    assert (told["state"], told["active"], told["stands"]) == ("shelved", False, True)
    assert told["text"] == ("shelved by anna until 2027-01-15 10:00:00 UTC: filter change; its condition is there")
    assert (told["suppressed_by"], told["out_of_service"]) == (None, None)


def test_a_suppressed_alarm_tells_under_what():
    told = one_alarm(SUPPRESSED)

    assert told["suppressed_by"] == {"why": "consequence", "under": "PDAHH-101"}
    assert (told["state"], told["active"], told["stands"]) == ("suppressed_by_design", False, True)


def test_a_hold_by_design_is_told_under_a_shelf_too():
    assert one_alarm(replace(SHELVED, hold=Hold(HoldReason.FAN_STOPPED)))["suppressed_by"] == {
        "why": "fan_stopped",
        "under": None,
    }


def test_an_alarm_out_of_service_tells_who_and_why():
    told = one_alarm(REMOVED)

    assert told["out_of_service"] == {
        "by": "ben",
        "reason": "calibration",
        "since": "2027-01-15T08:00:00.000Z",
    }
    assert (told["state"], told["stands"]) == ("out_of_service", False)


def test_an_alarm_that_nothing_holds_says_so():
    told = one_alarm(active())

    assert (told["shelved"], told["suppressed_by"], told["out_of_service"]) == (None, None, None)
    assert (told["stands"], told["text"], told["link"]) == (True, "active, not acknowledged", None)


@pytest.mark.parametrize("name", AlarmState)
def test_every_state_fits_the_schema(name):
    assert one_alarm(Alarm(state=name))["state"] == name.value


def test_the_held_alarms_of_a_collector_are_counted():
    alarms = {"PDAH-101": SHELVED, "PDAL-101": SUPPRESSED, "PDT-101-BAD": REMOVED}
    told = check("collector_state", payloads.collector_state(SITE, plan(), state(plan(), alarms=alarms), NOW))

    assert told["alarms"] == {
        "active": 0,
        "unacknowledged": 0,
        "latched": 0,
        "shelved": 1,
        "suppressed_by_design": 1,
        "out_of_service": 1,
        "highest_priority": None,
    }


def test_the_alarm_of_a_link_names_its_link_and_no_collector():
    told = check("alarm_state", payloads.link_alarm_state(SITE, LINK, active(), NOW))

    assert (told["link"], told["collector"], told["tag"]) == ("mill", None, "mill-LOST")
    assert (told["condition"], told["setpoint"], told["unit"]) == ("link_lost", None, None)


def test_the_alarm_of_the_phone_says_that_nobody_could_be_reached_and_where_to_look():
    phone = replace(LINK, name="phone", is_phone=True)
    told = check("alarm_state", payloads.link_alarm_state(SITE, phone, active(), NOW))
    listed_one = payloads.alarm_list(SITE, PlantPlan(links={"phone": phone}), {}, {"phone": active()}, NOW)[0]

    assert told["condition"] == "nobody_reached"
    assert told["text"] == "nobody could be reached by phone: active, not acknowledged"
    assert "check first: the phone gateway" in listed_one["behind"].casefold()


def test_the_list_has_every_alarm_the_most_urgent_first():
    found = listed(
        {"PDAH-101": latched(), "PDAL-101": active(), "PDT-101-BAD": SUPPRESSED}, link=active(seen=True)
    )

    assert [each["tag"] for each in found] == ["mill-LOST", "PDAL-101", "PDAH-101", "PDT-101-BAD"]
    assert [each["priority"] for each in found[:2]] == ["high", "low"]


def test_among_equals_the_unanswered_come_first_and_held_ones_whose_condition_is_there_before_the_others():
    held = {"PDAH-101": REMOVED, "PDAL-101": SHELVED, "PDT-101-BAD": Alarm()}
    equals = payloads.alarm_list(
        SITE,
        PlantPlan(links={"a": replace(LINK, name="a"), "b": replace(LINK, name="b")}),
        {},
        {"a": active(seen=True), "b": active()},
        NOW,
    )

    assert [each["tag"] for each in listed(held)] == ["PDAL-101", "PDAH-101", "PDT-101-BAD"]
    assert [each["link"] for each in equals] == ["b", "a"]


def test_the_list_shows_what_each_band_judges_and_nothing_while_the_dp_is_bad():
    assert {each["tag"]: each["value"] for each in listed(link=Alarm())} == {
        "PDAH-101": 4.2,
        "PDAL-101": 3.1,
        "PDT-101-BAD": None,
        "mill-LOST": None,
    }
    assert {each["value"] for each in listed(dp=BAD)} == {None}


def test_a_collector_or_link_without_a_state_is_left_out():
    plant = PlantPlan(collectors={"DC-101": plan()}, links={"mill": LINK})

    assert payloads.alarm_list(SITE, plant, {}, {}, NOW) == []
