"""The forecast against lives whose true date is known, on two beds that know nothing of one another.

The normal run draws a few lives; the long one asks a hundred of each bed. No seed asked here was tuned on.
"""

import pytest

from monitor.interpret.trend.forecast import Outlook
from tests.scenarios.forecast_trials import FIRST_SEED, trials
from tests.scenarios.forecasting import BEDS, coverage, dated, line, median_error

#: Of fifteen lives, with a chance of 0.8 each, 7 or fewer hold four times of a thousand (binomial); the five
#: forecasts of one life hang together so much that they count as one.
DRAWN, LEAST_HELD = 15, 8 / 15


@pytest.fixture(scope="module", params=BEDS)
def drawn(request):
    return list(trials(request.param, range(FIRST_SEED, FIRST_SEED + DRAWN)))


def test_intervals_of_a_draw_hold_about_as_often_as_they_say(drawn, record_property):
    record_property("counts", line(drawn[0].bed, drawn))

    assert coverage(drawn) >= LEAST_HELD


def test_an_interval_that_always_holds_would_be_told_from_ours(drawn):
    """Not by being endless: half of them are narrower than twice what remains."""
    widths = sorted(trial.width for trial in dated(drawn))

    assert widths[len(widths) // 2] < 2.0


def test_a_date_is_told_for_nearly_every_life_from_its_half_on(drawn):
    """Where cleaning stops at a set point, the residual DP stands still until it cannot come down to it."""
    plain = [trial for trial in drawn if not trial.kind.startswith("to_stop")]

    assert len(dated(plain)) >= 0.9 * len(plain)
    assert not any(trial.outlook is Outlook.NOT_ENOUGH_DATA for trial in plain)


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("bed", BEDS)
def test_intervals_of_a_hundred_lives_hold_seventy_five_to_eighty_five_times_of_a_hundred(bed, record_property):
    asked = list(trials(bed, range(FIRST_SEED, FIRST_SEED + 100)))
    record_property("counts", line(bed, asked))

    assert 0.75 <= coverage(asked) <= 0.85
    assert median_error(asked) <= 0.15
