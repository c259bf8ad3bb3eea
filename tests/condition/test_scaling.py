"""Scaling: the raw-count conventions of the trade, every shape of range, and the way back."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from monitor.condition import scaling
from monitor.condition.scaling import LinearScaling, LoopScaling


def loop(counts_at_4: float, counts_at_20: float, low: float = 0.0, high: float = 10.0) -> LoopScaling:
    return LoopScaling(counts_at_4, counts_at_20, low, high)


#: Counts at 4 and 20 mA, and what the same converter shows at 8, 12 and 16 mA (worked by hand from the ends).
CONVENTIONS = [
    pytest.param(819, 4095, (1638, 2457, 3276), id="12-bit over 0-20 mA"),
    pytest.param(6553.4, 32767, (13106.8, 19660.2, 26213.6), id="15-bit over 0-20 mA"),
    pytest.param(13107, 65535, (26214, 39321, 52428), id="16-bit over 0-20 mA"),
    pytest.param(0, 27648, (6912, 13824, 20736), id="27648 over 4-20 mA"),
    pytest.param(5529.6, 27648, (11059.2, 16588.8, 22118.4), id="27648 over 0-20 mA"),
    pytest.param(0, 32767, (8191.75, 16383.5, 24575.25), id="32767 over 4-20 mA"),
    pytest.param(0, 10000, (2500, 5000, 7500), id="10000 over 4-20 mA"),
    pytest.param(4000, 20000, (8000, 12000, 16000), id="microamperes"),
]


@pytest.mark.parametrize(("at_4", "at_20", "between"), CONVENTIONS)
def test_every_convention_of_counts_gives_the_same_current_and_value(
    at_4: float, at_20: float, between: tuple[float, float, float]
) -> None:
    it = loop(at_4, at_20)
    for current_ma, counts in zip((4, 8, 12, 16, 20), (at_4, *between, at_20), strict=True):
        assert scaling.to_current_ma(it, counts) == pytest.approx(current_ma, rel=1e-12)
        assert scaling.to_value(it, counts) == pytest.approx((current_ma - 4) * 10 / 16, abs=1e-12)
        assert scaling.counts_at_current(it, current_ma) == pytest.approx(counts, rel=1e-12)


@pytest.mark.parametrize(("at_4", "at_20", "between"), CONVENTIONS)
def test_both_ends_come_out_exact(at_4: float, at_20: float, between: object) -> None:
    it = loop(at_4, at_20, -1.0, 9.0)

    assert scaling.to_current_ma(it, at_4) == 4.0
    assert scaling.to_current_ma(it, at_20) == 20.0
    assert scaling.to_value(it, at_4) == -1.0
    assert scaling.to_value(it, at_20) == 9.0


@pytest.mark.parametrize(
    ("counts", "current_ma"), [(-691.2, 3.6), (29376, 21.0), (32511, 22.8142), (-4864, 1.1852), (28512, 20.5)]
)
def test_currents_outside_the_range_are_not_limited(counts: float, current_ma: float) -> None:
    assert scaling.to_current_ma(loop(0, 27648), counts) == pytest.approx(current_ma, abs=5e-5)


@pytest.mark.parametrize(
    ("current_ma", "value"),
    [(3.6, -0.25), (3.8, -0.125), (4, 0), (8, 2.5), (20, 10), (20.5, 10.3125), (21, 10.625)],
)
def test_a_range_of_0_to_10_inches(current_ma: float, value: float) -> None:
    it = loop(4000, 20000)

    assert scaling.to_value(it, current_ma * 1000) == pytest.approx(value, abs=1e-12)


def test_worked_values() -> None:
    """12-bit 2048 is 10.0024 mA, 3.75153 of 0 to 10; a compound range of −1 to 9 reads 0 at 5.6 mA."""
    it = loop(819, 4095)
    assert scaling.to_current_ma(it, 2048) == pytest.approx(10.0024, abs=5e-5)
    assert scaling.to_value(it, 2048) == pytest.approx(3.75153, abs=5e-6)
    assert scaling.to_value(loop(4000, 20000, -1.0, 9.0), 5600) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("low", "high", "at_12_ma"),
    [(-5.0, 5.0, 0.0), (-10.0, -2.0, -6.0), (10.0, 0.0, 5.0), (0.0, -8.0, -4.0), (-1.0, 9.0, 4.0)],
)
def test_negative_reversed_and_compound_ranges(low: float, high: float, at_12_ma: float) -> None:
    it = loop(0, 10000, low, high)

    assert scaling.to_value(it, 0) == low
    assert scaling.to_value(it, 10000) == high
    assert scaling.to_value(it, 5000) == pytest.approx(at_12_ma)


def test_counts_may_run_backwards() -> None:
    it = LoopScaling(20000, 4000, 0.0, 10.0)

    assert scaling.to_current_ma(it, 8000) == 16.0
    assert scaling.to_value(it, 8000) == 7.5


@pytest.mark.parametrize(
    ("at_4", "at_20", "full_scale", "end_ma"),
    [
        (819, 4095, 4095, 20.0),
        (6553.4, 32767, 32767, 20.0),
        (0, 27648, 32511, 22.814236),
        (0, 10000, 10400, 20.64),
        (4095, 819, 0, 24.0),
        (32767, 6553.4, 6553, 20.000244),
    ],
)
def test_full_scale_lies_upwards_in_current_whichever_way_the_counts_run(
    at_4: float, at_20: float, full_scale: float, end_ma: float
) -> None:
    it = LoopScaling(at_4, at_20, 0.0, 10.0, full_scale)

    assert scaling.converter_end_ma(it) == pytest.approx(end_ma, abs=1e-6)


def test_without_a_stated_full_scale_there_is_no_end() -> None:
    assert scaling.converter_end_ma(loop(0, 27648)) == math.inf


@given(
    st.integers(0, 65535),
    st.integers(0, 65535),
    st.integers(0, 65535),
    st.integers(0, 65535),
)
def test_no_rounding_lets_the_last_count_pass(at_4: int, at_20: int, full_scale: int, counts: int) -> None:
    """At or beyond the last count in counts is at or beyond it in current, and never the other way round."""
    assume(at_4 != at_20)
    it = LoopScaling(at_4, at_20, 0.0, 10.0, full_scale)
    beyond = counts >= full_scale if at_20 > at_4 else counts <= full_scale

    assert (scaling.to_current_ma(it, counts) >= scaling.converter_end_ma(it)) is beyond


def test_linear_scaling_applies_scale_then_offset_then_the_unit() -> None:
    it = LinearScaling(scale=0.01, offset=-5.0, to_inside=4.014631)

    assert scaling.to_value(it, 700) == pytest.approx(2.0 * 4.014631)
    assert scaling.to_value(LinearScaling(), 555) == 555.0


def test_a_scaling_without_an_inverse_says_so() -> None:
    with pytest.raises(ZeroDivisionError):
        scaling.to_raw(LinearScaling(scale=0.0), 1.0)


sizes = st.floats(0.001, 1e5)
ends = st.floats(-1e5, 1e5)


@given(ends, sizes, st.booleans(), ends, sizes, st.booleans(), st.floats(-2.0, 3.0))
def test_a_loop_scaling_has_its_inverse(
    zero: float, span: float, back: bool, low: float, width: float, reverse: bool, fraction: float
) -> None:
    it = loop(zero, zero - span if back else zero + span, low, low - width if reverse else low + width)
    value = low + fraction * (it.value_at_20_ma - low)

    there = scaling.to_value(it, scaling.to_raw(it, value))

    # Rounding is relative to the largest number met on the way, seen through the slope.
    slope = abs(width / span)
    assert there == pytest.approx(value, abs=1e-12 * (abs(low) + width * 4 + slope * (abs(zero) + span * 4)))


@given(st.floats(0.001, 1e3), ends, st.floats(0.01, 300.0), ends)
def test_a_linear_scaling_has_its_inverse(scale: float, offset: float, to_inside: float, value: float) -> None:
    it = LinearScaling(scale, offset, to_inside)

    there = scaling.to_value(it, scaling.to_raw(it, value))

    assert there == pytest.approx(value, abs=1e-300 + 1e-12 * (abs(value) + abs(offset) * to_inside))


@given(st.integers(-32768, 65535), st.sampled_from([(819, 4095), (0, 27648), (6553.4, 32767), (20000, 4000)]))
def test_counts_current_and_value_tell_one_story(counts: int, ends_of: tuple[float, float]) -> None:
    it = loop(*ends_of, -1.0, 9.0)
    current_ma = scaling.to_current_ma(it, counts)

    assert scaling.counts_at_current(it, current_ma) == pytest.approx(counts, abs=1e-8)
    assert scaling.to_value(it, counts) == pytest.approx(-1.0 + (current_ma - 4) * 10 / 16, abs=1e-9)
