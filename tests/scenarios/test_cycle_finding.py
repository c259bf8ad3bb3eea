"""A seeded draw of the table of cycles found: scenarios and seeds on which nothing was tuned."""

import pytest

from tests.interpret.cycles.sawtooth import Kind
from tests.interpret.cycles.scoring import Score
from tests.scenarios.cycle_finding import FIRST_UNSEEN_SEED, judged, sawtooth, scenario, stems

DRAWN = ("healthy_rounds", "healthy_load_swings", "healthy_set_points_moved")
KINDS = (Kind.PLAIN, Kind.CLOSE_POINTS, Kind.FLOW_WANDERS, Kind.SPIKES, Kind.TORN, Kind.MISSING, Kind.QUICK)


@pytest.fixture(scope="module")
def drawn():
    plant = [scenario(name, FIRST_UNSEEN_SEED, longest_h=6.0) for name in DRAWN]
    return plant + [sawtooth(kind, FIRST_UNSEEN_SEED) for kind in KINDS]


def test_it_is_judged_on_what_it_was_not_tuned_on():
    assert not set(stems(tuned=True)) & set(DRAWN)


@pytest.mark.parametrize(
    ("way", "period_s"),
    [
        ("DP alone", 1),
        ("DP alone", 10),
        ("no signal", 1),
        ("no signal", 10),
        ("signal", 1),
        ("signal", 10),
        ("signal", 30),
    ],
)
def test_of_a_hundred_cycles_ninety_nine_are_found_and_one_is_false(drawn, way, period_s):
    result = Score()
    for recording in drawn:
        result.add(judged(recording, period_s, way))

    assert result.true > 150
    assert result.found_share >= 0.99
    assert result.false_share <= 0.01
