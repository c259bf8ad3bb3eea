"""The smallest worlds of the model, whole, in seconds: what the mutation test runs after the examples."""

import pytest

from tests.judge.model.explore import explore
from tests.judge.model.invariants import OF_AN_ALARM
from tests.judge.model.one_alarm import Place, World, small

WORLDS = {
    "seen at every moment": (World(small(latching=True), continuous=True), 500),
    "counting back": (World(small(latching=False, auto_clear_s=None, counts_back=True), continuous=True), 250),
    "by readings": (World(small(latching=False), continuous=False), 1000),
}


@pytest.mark.parametrize("name", WORLDS)
def test_every_invariant_holds_in_every_state(name):
    world, floor = WORLDS[name]
    found = explore(Place(), world.moves, OF_AN_ALARM, most=5000)

    assert found.broken == {}
    assert found.states >= floor
