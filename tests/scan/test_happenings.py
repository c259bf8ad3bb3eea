"""What an event brings along is what its sentence needs."""

import pytest

from monitor.judge.settings import Side
from monitor.scan.settings import PlantPlan
from monitor.scan.turn import begin, turn
from monitor.tell.wording import sentence
from tests.scan.plans import at, band, dp_scan, plan


def day_of(plan, values):
    plant, events = PlantPlan(collectors={plan.name: plan}), []
    state = begin(plant, at(0))
    for second, value in enumerate(values):
        outcome = turn(plant, state, dp_scan(second, value), at(second))
        state = outcome.onto(state)
        events += outcome.events
    return events


@pytest.mark.parametrize(
    ("on_delay_s", "said"),
    [(2.0, "(7 inH2O) and stayed there for 2 s: alarm raised"), (0.0, "(7 inH2O): alarm raised")],
)
def test_a_raised_alarm_says_how_long_its_condition_had_lasted(on_delay_s, said):
    bands = (band("PDAH-101", Side.ABOVE, 7.0, on_delay_s=on_delay_s),)
    (raised,) = day_of(plan(bands=bands), [7.5] * 4)

    assert said in sentence(raised)


def test_what_follows_a_raised_alarm_says_when_it_was_raised():
    bands = (band("PDAH-101", Side.ABOVE, 7.0, on_delay_s=0.0, off_delay_s=0.0),)
    raised, latched = day_of(plan(bands=bands), [7.5, 7.5, 4.0])

    assert latched.happened == "latched"
    assert latched.facts["raised_utc_s"] == raised.at_utc_s
    assert "(raised 2023-11-14 22:13:20 UTC)" in sentence(latched)
