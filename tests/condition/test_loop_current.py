"""Loop current: the decision table of NE 43, the 4 s, and no chatter at any edge."""

import math
import random
from collections.abc import Iterable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.condition import loop_current
from monitor.condition.loop_current import HEALTHY, LoopClass, LoopState

LOW, BELOW, MEASURING = LoopClass.FAILED_LOW, LoopClass.BELOW_MEASURING, LoopClass.MEASUREMENT
ABOVE, SATURATED, HIGH = LoopClass.ABOVE_MEASURING, LoopClass.SATURATED, LoopClass.FAILED_HIGH

currents = st.floats(-5.0, 30.0)


def follow(samples: Iterable[tuple[float, float]], end_ma: float = math.inf) -> list[LoopState]:
    """The states after each (time, current)."""
    states, state = [], HEALTHY
    for at_s, current_ma in samples:
        state = loop_current.advance(state, current_ma, at_s, end_ma)
        states.append(state)
    return states


@pytest.mark.parametrize(
    ("current_ma", "level"),
    [
        (-math.inf, LOW),
        (-1.0, LOW),
        (0.0, LOW),
        (3.5, LOW),
        (3.6, LOW),
        (math.nextafter(3.6, 9), BELOW),
        (3.61, BELOW),
        (3.79, BELOW),
        (math.nextafter(3.8, 0), BELOW),
        (3.8, MEASURING),
        (4.0, MEASURING),
        (8.0, MEASURING),
        (12.0, MEASURING),
        (16.0, MEASURING),
        (20.0, MEASURING),
        (20.5, MEASURING),
        (math.nextafter(20.5, 99), ABOVE),
        (20.75, ABOVE),
        (math.nextafter(21.0, 0), ABOVE),
        (21.0, HIGH),
        (22.0, HIGH),
        (math.inf, HIGH),
        (math.nan, LOW),
    ],
)
def test_each_band_edge_falls_on_the_side_the_standard_puts_it(current_ma: float, level: LoopClass) -> None:
    """NAMUR NE 43: measurement 3.8 to 20.5 mA, failure from 3.6 mA down and from 21.0 mA up."""
    assert loop_current.classify(current_ma) is level


@pytest.mark.parametrize(
    ("current_ma", "end_ma", "level"),
    [
        (20.0, 20.0, SATURATED),
        (20.3, 20.0, SATURATED),
        (19.99, 20.0, MEASURING),
        (20.6, 20.75, ABOVE),
        (20.75, 20.75, SATURATED),
        (21.0, 21.0, HIGH),
        (20.9, 21.0, ABOVE),
        (22.8, 22.8142, HIGH),
        (22.8142, 22.8142, HIGH),
    ],
)
def test_a_converter_that_ends_early_is_saturated_at_its_end(
    current_ma: float, end_ma: float, level: LoopClass
) -> None:
    """Where it reaches 21 mA, NE 43 covers it and the end changes nothing."""
    assert loop_current.classify(current_ma, end_ma) is level


@given(currents, currents, st.sampled_from([math.inf, 20.0, 20.6, 22.0]))
def test_more_current_is_never_a_lower_class(one: float, two: float, end_ma: float) -> None:
    low, high = sorted((one, two))

    assert loop_current.classify(low, end_ma) <= loop_current.classify(high, end_ma)


@pytest.mark.parametrize("edge_ma", [3.6, 3.8, 20.0, 20.5, 21.0])
@pytest.mark.parametrize("seed", range(5))
def test_noise_at_an_edge_flips_the_class_once_or_twice(edge_ma: float, seed: int) -> None:
    """An hour at ten samples a second within ±0.02 mA of an edge, arriving from the measurement side."""
    noise = random.Random(seed)
    end_ma = 20.0 if edge_ma == 20.0 else math.inf
    samples = [(0.0, 12.0)]
    samples += [(n / 10, edge_ma + noise.uniform(-0.02, 0.02)) for n in range(1, 36_000)]

    levels = [state.level for state in follow(samples, end_ma)]

    flips = sum(a is not b for a, b in pairwise(levels))
    bare = [loop_current.classify(current, end_ma) for _, current in samples]
    assert flips <= 2
    assert sum(a is not b for a, b in pairwise(bare)) > 10_000


@pytest.mark.parametrize("edge_ma", [3.6, 21.0, 20.0])
def test_noise_at_a_failure_edge_does_not_start_the_4_s_again(edge_ma: float) -> None:
    noise = random.Random(1)
    end_ma = 20.0 if edge_ma == 20.0 else math.inf
    samples = [(n / 10, edge_ma + noise.uniform(-0.02, 0.02)) for n in range(100)]

    states = follow(samples, end_ma)

    first = next(n for n, state in enumerate(states) if state.failing_since_s is not None)
    assert first < 20
    assert not loop_current.has_failed(states[first + 39], (first + 39) / 10)
    assert all(loop_current.has_failed(states[n], n / 10) for n in range(first + 41, 100))


@pytest.mark.parametrize("current_ma", [0.0, 3.6, 21.0, 22.0])
def test_a_failure_level_counts_once_it_has_lasted_4_s(current_ma: float) -> None:
    states = follow([(10.0, current_ma), (13.999, current_ma), (14.0, current_ma)])

    assert [loop_current.has_failed(s, at) for s, at in zip(states, (10.0, 13.999, 14.0), strict=True)] == [
        False,
        False,
        True,
    ]


def test_the_4_s_start_anew_after_a_real_recovery() -> None:
    states = follow([(0.0, 3.0), (3.9, 3.0), (3.95, 12.0), (4.0, 3.0), (7.9, 3.0), (8.0, 3.0)])

    assert not loop_current.has_failed(states[4], 7.9)
    assert loop_current.has_failed(states[5], 8.0)


def test_a_loose_wire_that_swings_from_end_to_end_fails() -> None:
    """Never well in between, so the 4 s go on from one failure level to the other."""
    states = follow([(float(n), 0.0 if n % 2 else 22.0) for n in range(6)])

    assert loop_current.has_failed(states[4], 4.0)
    assert states[4].level is HIGH
    assert states[5].level is LOW


@pytest.mark.parametrize(
    ("before_ma", "now_ma", "level"),
    [
        pytest.param(3.7, 3.84, BELOW, id="not yet back from below"),
        pytest.param(3.7, 3.851, MEASURING, id="back from below"),
        pytest.param(3.5, 3.84, BELOW, id="from failed straight to the edge of measuring"),
        pytest.param(3.5, 3.649, LOW, id="not yet out of failed low"),
        pytest.param(3.5, 3.651, BELOW, id="out of failed low"),
        pytest.param(3.5, 12.0, MEASURING, id="from failed low to the middle"),
        pytest.param(3.7, 3.6, LOW, id="from below to failed at once"),
        pytest.param(20.7, 20.46, ABOVE, id="not yet back from above"),
        pytest.param(20.7, 20.449, MEASURING, id="back from above"),
        pytest.param(22.0, 20.951, HIGH, id="not yet out of failed high"),
        pytest.param(22.0, 20.949, ABOVE, id="out of failed high"),
        pytest.param(22.0, 0.0, LOW, id="from end to end"),
        pytest.param(0.0, 22.0, HIGH, id="from end to end, up"),
        pytest.param(0.0, 20.501, ABOVE, id="from failed low just above measuring"),
        pytest.param(22.0, 3.799, BELOW, id="from failed high just below measuring"),
        pytest.param(12.0, 3.799, BELOW, id="out of measuring at once"),
        pytest.param(12.0, 20.501, ABOVE, id="out of measuring at once, up"),
        pytest.param(12.0, 3.8, MEASURING, id="measuring to its very limit"),
    ],
)
def test_outwards_a_limit_counts_at_once_and_inwards_with_the_hysteresis(
    before_ma: float, now_ma: float, level: LoopClass
) -> None:
    assert follow([(0.0, before_ma), (1.0, now_ma)])[-1].level is level


def test_a_broken_wire_that_heals_into_saturation_is_never_well() -> None:
    assert [state.level for state in follow([(0.0, 0.0), (1.0, 20.0)], end_ma=20.0)] == [LOW, SATURATED]


def test_a_saturated_converter_must_come_off_its_end() -> None:
    states = follow([(0.0, 20.0), (1.0, 19.96), (2.0, 19.94)], end_ma=20.0)

    assert [state.level for state in states] == [SATURATED, SATURATED, MEASURING]


@given(st.lists(currents, min_size=1, max_size=60), st.sampled_from([math.inf, 20.0, 20.6]))
def test_a_held_class_is_never_further_in_than_the_current(samples: list[float], end_ma: float) -> None:
    """Hysteresis may keep a measurement from being believed; it never makes one believed."""
    for current, state in zip(samples, follow(enumerate(samples), end_ma), strict=True):
        seen = loop_current.classify(current, end_ma)
        assert abs(state.level) >= abs(seen)
        assert state.level * seen >= 0
        if state.level is MEASURING:
            assert seen is MEASURING
        near = [loop_current.classify(current + d, end_ma) for d in (-0.0501, 0.0, 0.0501)]
        assert min(near) <= state.level <= max(near)


@given(st.lists(currents, max_size=30), st.floats(3.9, 19.9))
def test_the_middle_of_the_range_is_always_a_measurement(before: list[float], current_ma: float) -> None:
    states = follow(enumerate([*before, current_ma]), end_ma=20.0)

    assert states[-1] == HEALTHY
