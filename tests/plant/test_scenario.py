"""A scenario is the same list of happenings at the same plant times, for whoever asks."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.plant.scenario import Conditions, Fault, Happening, Scenario

HAPPENINGS = (
    Happening("DC-101", Fault.AIR_SUPPLY_LOST, 10.0, 20.0),
    Happening("DC-101", Fault.FAN_STOPPED, 15.0, 30.0),
    Happening("DC-102", Fault.LOOP_BROKEN, 5.0, 6.0),
)


def test_a_fault_holds_from_its_first_minute_to_before_its_last() -> None:
    scenario = Scenario(HAPPENINGS)
    assert scenario.conditions("DC-101", 599.0) == Conditions()
    assert scenario.conditions("DC-101", 600.0) == Conditions(air_supply=False)
    assert scenario.conditions("DC-101", 900.0) == Conditions(air_supply=False, fan_commanded=False)
    assert scenario.conditions("DC-101", 1200.0) == Conditions(fan_commanded=False)
    assert scenario.conditions("DC-101", 1800.0) == Conditions()


def test_a_fault_touches_its_own_collector_only() -> None:
    assert Scenario(HAPPENINGS).conditions("DC-102", 600.0) == Conditions()
    assert Scenario(HAPPENINGS).conditions("DC-102", 330.0) == Conditions(loop_broken=True)


def test_a_repeating_scenario_begins_anew() -> None:
    scenario = Scenario(HAPPENINGS, repeat_min=60.0)
    assert scenario.conditions("DC-101", 3600.0 + 600.0) == Conditions(air_supply=False)
    assert Scenario(HAPPENINGS).conditions("DC-101", 3600.0 + 600.0) == Conditions()


@given(st.integers(0, 20_000), st.sampled_from([None, 60.0]))
def test_nothing_changes_before_the_next_change(second: int, repeat_min: float | None) -> None:
    scenario = Scenario(HAPPENINGS, repeat_min=repeat_min)
    until = min(scenario.next_change_s("DC-101", second), second + 4000.0)
    now = scenario.conditions("DC-101", second)
    moment = float(second)
    while moment < until - 1e-6:
        assert scenario.conditions("DC-101", moment) == now
        moment += 30.0
