"""Theil–Sen, against scipy and against the examples that were published."""

from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from monitor.interpret.trend.theil_sen import MOST_POINTS, theil_sen, thinned

#: Sen, "Estimates of the Regression Coefficient Based on Kendall's Tau", JASA 63 (1968), the worked example.
SEN = [(1.0, 9.0), (2.0, 15.0), (3.0, 19.0), (4.0, 20.0), (10.0, 45.0), (12.0, 55.0), (18.0, 78.0)]
#: NIST StRD, data set Norris (x, y).
NORRIS_X = """0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6
556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5"""
NORRIS_Y = """0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8
557.7 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2"""
NORRIS = list(zip(map(float, NORRIS_X.split()), map(float, NORRIS_Y.split()), strict=True))

points = st.lists(
    st.tuples(st.integers(-50, 50).map(float), st.integers(-300, 300).map(lambda n: n / 8)),
    min_size=2,
    max_size=40,
)


def pairs(count):
    return count * (count - 1) * (2 * count + 5)


def ties(values):
    return sum(pairs(times) for times in Counter(values).values())


def test_the_example_of_sens_paper_comes_out_as_printed():
    slope = theil_sen(SEN, 0.93)

    assert slope.middle == 4.0
    assert slope.low == pytest.approx(3.71, abs=0.005)
    assert slope.high == pytest.approx(4.38, abs=0.006)


@pytest.mark.parametrize(
    ("confidence", "low", "high"),
    [(0.90, 3.75, 4.1818182), (0.95, 3.7142857, 4.375), (0.99, 2.5, 5.0)],
)
def test_a_wider_confidence_takes_slopes_further_out(confidence, low, high):
    slope = theil_sen(SEN, confidence)

    assert (slope.low, slope.high) == (pytest.approx(low), pytest.approx(high))


def test_norris_of_nist_rises_as_certified():
    """Certified B1 is 1.00211681802045 by least squares; Theil–Sen lies within its own interval of it."""
    slope = theil_sen(NORRIS, 0.95)

    assert slope.middle == pytest.approx(1.0021968366)
    assert slope.low < 1.00211681802045 < slope.high
    assert (slope.low, slope.high) == (pytest.approx(1.0011153246), pytest.approx(1.0030534351))


@given(points, st.sampled_from([0.5, 0.8, 0.9, 0.93, 0.95, 0.99]))
def test_it_agrees_with_scipy(points, confidence):
    assume(len({x for x, _ in points}) > 1)
    xs, ys = zip(*points, strict=True)
    # With many ties in x and in y the variance of Sen's paper falls below nothing; scipy then has no interval.
    assume(ties(xs) + ties(ys) <= pairs(len(points)))
    theirs = theilslopes(ys, xs, 1.0 - confidence)

    ours = theil_sen(points, confidence)

    assert ours.middle == pytest.approx(theirs.slope, abs=1e-12)
    assert ours.low == pytest.approx(theirs.low_slope, abs=1e-12)
    assert ours.high == pytest.approx(theirs.high_slope, abs=1e-12)


@given(points, st.floats(1.0, 4.0))
def test_widening_never_narrows(points, widened):
    assume(len({x for x, _ in points}) > 1)
    plain, wide = theil_sen(points, 0.8), theil_sen(points, 0.8, widened)

    assert wide.low <= plain.low <= plain.middle <= plain.high <= wide.high


def test_points_above_one_another_have_no_slope():
    assert theil_sen([(1.0, 2.0), (1.0, 3.0)], 0.8) is None


def test_of_too_many_points_the_first_and_the_last_stay():
    many = [(float(index), 0.0) for index in range(5 * MOST_POINTS + 3)]
    few = thinned(many, MOST_POINTS)

    assert len(few) == MOST_POINTS
    assert (few[0], few[-1]) == (many[0], many[-1])
    assert {round(b[0] - a[0]) for a, b in pairwise(few)} <= {5, 6}
