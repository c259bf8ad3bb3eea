"""The plant is a function of plant time: the seed and the second decide, not the asking."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.plant.demo_plant import demo_plant
from monitor.plant.noise import Noise
from monitor.plant.plant import Plant, Signals
from monitor.plant.scenario import Fault

NAMES = ("DC-101", "DC-102", "DC-103")


def trace(plant: Plant, until_s: int, every_s: int, name: str = "DC-101") -> dict[int, Signals]:
    shown = {}
    for second in range(0, until_s + 1, every_s):
        plant.advance_to(float(second))
        shown[second] = plant.signals(name)
    return shown


def test_the_same_seed_gives_the_same_day_and_another_seed_another() -> None:
    first, again, other = (trace(demo_plant(seed), 1800, 7) for seed in (1, 1, 2))
    assert first == again
    assert first != other


@settings(max_examples=25)
@given(st.lists(st.integers(1, 900), min_size=1, max_size=6))
def test_signals_do_not_depend_on_when_anybody_asked_before(asked: list[int]) -> None:
    asked_often, asked_once = demo_plant(3), demo_plant(3)
    for second in sorted(asked):
        asked_often.advance_to(second + 0.25)
        [asked_often.signals(name) for name in NAMES]
    asked_often.advance_to(900.0)
    asked_once.advance_to(900.9)
    assert [asked_often.signals(name) for name in NAMES] == [asked_once.signals(name) for name in NAMES]


def test_a_time_already_passed_changes_nothing() -> None:
    plant = demo_plant()
    plant.advance_to(100.0)
    shown = plant.signals("DC-101")
    plant.advance_to(50.0)
    assert plant.signals("DC-101") == shown


@pytest.mark.parametrize("seed", [1, 2, 3, 11])
def test_two_hours_show_the_whole_story(seed: int) -> None:
    """Sawteeth, the climb through 7 inH2O and the return in time for a 20 min auto-clear, on any seed."""
    plant = demo_plant(seed)
    dp = {name: trace(demo_plant(seed), 7200, 5, name) for name in NAMES}
    starts = sum(
        not before.cleaning_active and after.cleaning_active for before, after in pairwise(dp["DC-101"].values())
    )
    high = [second for second, shown in dp["DC-101"].items() if shown.dp_inh2o > 7.2]
    lost = next(one for one in plant.scenario.happenings if one.fault is Fault.AIR_SUPPLY_LOST)

    assert starts >= 8
    assert max(shown.dp_inh2o for shown in dp["DC-101"].values()) < 9.5
    assert lost.from_min * 60.0 < min(high) < max(high) < lost.to_min * 60.0 + 120.0
    # Back within a few minutes, so that 20 min of auto-clear end before plant minute 75.
    assert max(high) + 300.0 + 1200.0 < 75.0 * 60.0
    assert any(shown.loop_broken for shown in dp["DC-102"].values())
    assert any(not shown.fan_running for shown in dp["DC-103"].values())
    assert min(shown.dp_inh2o for shown in dp["DC-102"].values()) < 1.95


def test_a_live_dp_always_moves_while_the_fan_runs() -> None:
    shown = [one.dp_inh2o for one in trace(demo_plant(), 1000, 1).values()]
    assert all(before != after for before, after in pairwise(shown))


def test_a_pulse_shows_as_a_spike_now_and_then() -> None:
    """A tenth of a second seen once a second: about one pulse in ten."""
    plant = demo_plant()
    pulses = spikes = 0
    for second in range(1, 40_000):
        plant.advance_to(float(second))
        state = plant.state("DC-103")
        pulses += state.pulsed
        spikes += state.pulsed and plant.signals("DC-103").dp_inh2o > state.dp_inh2o + 0.5
    assert pulses > 500
    assert 0.05 < spikes / pulses < 0.2


@given(st.integers(0, 10**9))
def test_noise_is_bounded_and_a_matter_of_its_step(number: int) -> None:
    noise = Noise(1, "DC-101")
    assert -3.0 <= noise.at(number) <= 3.0
    assert 0.0 <= noise.share(number) < 1.0
    assert noise.at(number) == Noise(1, "DC-101").at(number)


def test_noise_has_mean_0_and_deviation_1() -> None:
    drawn = list(map(Noise(5, "x").at, range(20_000)))
    mean = sum(drawn) / len(drawn)
    assert abs(mean) < 0.05
    assert sum((one - mean) ** 2 for one in drawn) / len(drawn) == pytest.approx(1.0, abs=0.06)
