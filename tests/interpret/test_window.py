"""The residual DP and the running average, against plain arithmetic."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.interpret.window import BUCKETS, Window, add, pause


def fill(samples, length_s=60.0, window=None):
    window = window or Window()
    for second, value in samples:
        window = add(window, value, second, length_s)
    return window


def test_nothing_is_claimed_before_the_window_is_full():
    window = fill((second, 4.0) for second in range(60))

    assert window.lowest is None
    assert window.mean is None

    window = fill([(60, 4.0)], window=window)
    assert window.lowest == 4.0
    assert window.mean == pytest.approx(4.0)


def test_the_residual_of_a_sawtooth_is_its_lowest_point_and_the_mean_its_middle():
    # 5 → 4 inH2O in twenty seconds, over and over: lowest 4, mean by time 4.5 by symmetry.
    window = fill((tick / 10, 5.0 - (tick / 10 % 20) / 20) for tick in range(3000))

    assert window.lowest == pytest.approx(4.0, abs=0.01)
    assert window.mean == pytest.approx(4.5, abs=0.02)


def test_time_without_sight_counts_for_nothing():
    window = fill((second, 4.0) for second in range(61))
    window = fill([(100_000, 4.0)], window=pause(window))

    assert window.mean == pytest.approx(4.0)
    assert window.closed_s + window.open.length_s == pytest.approx(60.0)


def test_what_left_the_window_is_forgotten():
    window = fill([(second, 1.0 if second < 10 else 5.0) for second in range(200)])

    assert window.lowest == 5.0


@given(st.lists(st.floats(-20, 20), min_size=80, max_size=300))
def test_residual_and_mean_agree_with_plain_arithmetic(values):
    window = fill(enumerate(values))
    seen = values[-(BUCKETS + 1) :]

    assert window.lowest == min(seen)
    assert window.mean == pytest.approx(sum(seen[:-1]) / (len(seen) - 1), abs=1e-9)


@given(st.lists(st.tuples(st.floats(0.1, 500.0), st.floats(-20, 20)), max_size=200))
def test_the_memory_is_bounded_and_the_mean_lies_inside_the_values(steps):
    now_s, samples = 0.0, []
    for passed_s, value in steps:
        now_s += passed_s
        samples.append((now_s, value))
    window = fill(samples, length_s=600.0)

    assert len(window.closed) <= BUCKETS + 1
    if window.mean is not None:
        values = [value for _, value in samples]
        assert min(values) - 1e-6 <= window.mean <= max(values) + 1e-6


@pytest.mark.parametrize("scan_s", [0.1, 0.25, 0.7, 1.0, 2.0, 5.0, 20.0])
def test_the_window_is_as_long_as_it_says_however_often_it_is_fed(scan_s):
    """Sixty seconds: full after sixty (and at most one sample), and a step is all there is sixty seconds later."""
    window, filled_s, now_s = Window(), None, 0.0
    while now_s < 300:
        now_s += scan_s
        window = add(window, 2.0 if now_s < 150 else 4.0, now_s, 60.0)
        filled_s = filled_s or (now_s if window.is_full else None)
        if 150 + 60 + 2 * max(scan_s, 1.0) < now_s:
            assert window.lowest == 4.0
            assert window.mean == pytest.approx(4.0)

    assert 60 <= filled_s <= 60 + 2 * max(scan_s, 1.0)
