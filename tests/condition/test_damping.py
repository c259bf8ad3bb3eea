"""Damping: spikes do not pass, a step answers as the formula says, and the scan rate does not matter."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.condition import damping
from monitor.condition.damping import DampingState


def run(
    samples: list[tuple[float, float]],
    median_samples: int | None = None,
    lag_s: float | None = None,
    restart_after_s: float = 1e9,
    state: DampingState | None = None,
) -> list[float]:
    """The damped values of (time, value) samples."""
    out = []
    for at_s, value in samples:
        state = damping.advance(
            state, value, at_s, median_samples=median_samples, lag_s=lag_s, restart_after_s=restart_after_s
        )
        out.append(state.damped)
    return out


def every_second(*values: float) -> list[tuple[float, float]]:
    return [(float(n), value) for n, value in enumerate(values)]


def test_the_first_sample_is_taken_as_it_is() -> None:
    assert run(every_second(5.0), 5, 30.0) == [5.0]


def test_a_median_of_three_stops_a_spike_of_one_sample() -> None:
    assert run(every_second(4, 4, 9, 4, 4), 3)[2:] == [4, 4, 4]


def test_a_median_of_five_stops_a_spike_of_two_samples() -> None:
    assert run(every_second(4, 4, 4, 9, 9, 4, 4), 5)[3:] == [4, 4, 4, 4]
    assert run(every_second(4, 4, 4, 9, 9, 9, 4), 5)[5] == 9


def test_a_median_that_fills_is_of_what_there_is() -> None:
    assert run(every_second(4, 6, 8, 1), 5) == [4, 5, 6, 5]
    assert run(every_second(1, 2, 3, 4, 5, 6, 7), 5) == [1, 1.5, 2, 2.5, 3, 4, 5]


def test_a_step_answers_by_the_exponential() -> None:
    """63.2 % after one time constant, 95.0 % after three."""
    samples = [(0.0, 0.0), *[(n / 10, 10.0) for n in range(1, 301)]]

    out = run(samples, lag_s=10.0)

    assert out[100] == pytest.approx(10 * (1 - math.exp(-1)), rel=1e-12)
    assert out[300] == pytest.approx(10 * (1 - math.exp(-3)), rel=1e-12)


def test_the_median_comes_before_the_lag() -> None:
    assert run(every_second(4, 4, 4, 90, 4, 4), 3, 2.0) == [4.0] * 6


def test_without_median_and_lag_nothing_changes() -> None:
    assert run(every_second(3, 1, 4, 1, 5)) == [3, 1, 4, 1, 5]


def test_a_gap_longer_than_allowed_starts_anew() -> None:
    samples = [(0.0, 1.0), (1.0, 1.0), (11.0, 1.0), (21.001, 9.0), (22.0, 9.0)]

    assert run(samples, 3, 60.0, restart_after_s=10.0) == [1.0, 1.0, 1.0, 9.0, 9.0]


def test_a_gap_that_is_allowed_is_damped_by_its_real_length() -> None:
    assert run([(0.0, 0.0), (30.0, 10.0)], lag_s=10.0)[-1] == pytest.approx(10 * (1 - math.exp(-3)), rel=1e-12)


@pytest.mark.parametrize("at_s", [0.0, -5.0])
def test_a_sample_no_later_than_the_last_moves_nothing(at_s: float) -> None:
    assert run([(0.0, 4.0), (at_s, 9.0)], lag_s=10.0)[-1] == pytest.approx(4.0)


values = st.floats(-1e3, 1e3)
steps = st.floats(0.001, 100.0)
medians = st.sampled_from([None, 3, 5, 15])
lags = st.one_of(st.none(), st.floats(0.01, 1e4))


@given(st.lists(st.tuples(steps, values), min_size=1, max_size=60), medians, lags, st.floats(0.5, 200.0))
def test_damping_never_leaves_what_it_was_fed(
    fed: list[tuple[float, float]], median_samples: int | None, lag_s: float | None, restart_after_s: float
) -> None:
    at_s, samples = 0.0, []
    for step_s, value in fed:
        at_s += step_s
        samples.append((at_s, value))

    out = run(samples, median_samples, lag_s, restart_after_s)

    for n, damped in enumerate(out):
        so_far = [value for _, value in samples[: n + 1]]
        assert min(so_far) - 1e-9 <= damped <= max(so_far) + 1e-9


@given(values, values, st.lists(steps, min_size=1, max_size=20), st.floats(0.1, 1e3))
def test_splitting_the_time_of_a_constant_input_changes_nothing(
    before: float, value: float, parts: list[float], lag_s: float
) -> None:
    split, at_s = [(0.0, before)], 0.0
    for step_s in parts:
        at_s += step_s
        split.append((at_s, value))

    assert run(split, lag_s=lag_s)[-1] == pytest.approx(
        run([(0.0, before), (at_s, value)], lag_s=lag_s)[-1], rel=1e-9, abs=1e-9
    )


@given(values, st.lists(steps, min_size=1, max_size=30), medians, lags)
def test_a_constant_input_stays_exactly_itself(
    value: float, parts: list[float], median_samples: int | None, lag_s: float | None
) -> None:
    times = [0.0]
    for step_s in parts:
        times.append(times[-1] + step_s)

    assert set(run([(at, value) for at in times], median_samples, lag_s)) == {value}


@given(st.lists(values, min_size=2, max_size=20, unique=True), st.floats(0.1, 100.0))
def test_a_rising_input_gives_a_rising_output(fed: list[float], lag_s: float) -> None:
    out = run(every_second(*sorted(fed)), 3, lag_s)

    assert all(b >= a - 1e-9 for a, b in pairwise(out))
