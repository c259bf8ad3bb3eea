"""What the advice foretells, the simulated plant does. ``against_plant`` prints it; the whole draw is long."""

from statistics import median

import pytest

from monitor.interpret.advice.learning import Lack
from tests.interpret.advice.against_plant import summary, tried

#: None of these seeds was looked at while the rules were written.
FIRST = 401
WHOLE = 40


def test_what_is_foretold_comes_true_on_a_short_draw():
    results = [tried(seed, hours=10.0) for seed in range(FIRST + 200, FIRST + 204)]

    moved = [one for one in results if one.real is not None]
    assert moved
    for one in moved:
        assert abs(one.error) < 0.25, one
        assert abs(one.air_error) < 0.4, one


@pytest.mark.long
@pytest.mark.timeout(900)
def test_what_is_foretold_comes_true_on_forty_plants():
    results = [tried(seed) for seed in range(FIRST, FIRST + WHOLE)]
    print(summary(results))

    moved = [one for one in results if one.real is not None]
    assert len(moved) >= 20
    assert median(abs(one.error) for one in moved) < 0.10
    assert median(abs(one.air_error) for one in moved) < 0.10
    assert max(abs(one.band_error) for one in moved) < 0.10
    checks = [abs(one.found.habits.error) for one in results if not isinstance(one.found, Lack)]
    assert max(checks) < 0.15
