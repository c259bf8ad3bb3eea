"""Which alarms a query asks for."""

import json

import pytest

from monitor.judge.table import HELD
from monitor.tell.web_alarms import wanted, write_alarms
from monitor.words import AlarmState

ALL = [{"tag": f"PDAH-{number}", "state": state.value} for number, state in enumerate(AlarmState)]


def listed(*query: tuple[str, str]) -> set[AlarmState]:
    return {AlarmState(one["state"]) for one in json.loads(write_alarms(iter(ALL), wanted(query)))["alarms"]}


def test_without_a_query_every_alarm_is_listed_in_the_order_given():
    assert json.loads(write_alarms(iter(ALL), wanted([])))["alarms"] == ALL


def test_states_add_up_and_held_narrows_them():
    assert listed(("state", "normal"), ("state", "shelved")) == {AlarmState.NORMAL, AlarmState.SHELVED}
    assert listed(("held", "yes")) == HELD
    assert listed(("held", "no")) == set(AlarmState) - HELD
    assert listed(("state", "normal"), ("held", "yes")) == set()
    assert listed(("held", "yes"), ("state", "shelved"), ("state", "normal")) == {AlarmState.SHELVED}


@pytest.mark.parametrize(
    ("key", "value", "why"),
    [
        ("state", "high", "state must be one of normal,"),
        ("state", "", "state must be one of"),
        ("held", "true", "held must be yes or no"),
        ("tag", "PDAH-101", "asked for by state=… and held="),
    ],
)
def test_what_a_query_cannot_ask_is_told(key, value, why):
    with pytest.raises(ValueError, match=why):
        wanted([(key, value)])
