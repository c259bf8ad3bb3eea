"""Sizes: what a row takes is bounded, so that what fits into a history file can be told beforehand."""

import pytest

from monitor.remember.settings import StoreSettings
from monitor.remember.sizes import BYTES_A_ROW, fitting_s
from monitor.remember.tier import Tier
from tests.benchmarks.years_of_rows import ALL_ROLES, DP_ONLY, bytes_a_row, fill, live, open_file, points

DAY_S = 86_400.0
#: So long that a tier's file has some hundred pages.
_SHORT_S = {Tier.STEPS: 6 * 3600, Tier.MINUTES: 86_400, Tier.HOURS: 30 * 86_400}
#: All the hours of five years; a tenth of the steps and minutes (``python -m tests.benchmarks years`` writes all).
_WHOLE_S = {Tier.STEPS: 9 * 86_400, Tier.MINUTES: 40 * 86_400, Tier.HOURS: 1_830 * 86_400}


@pytest.mark.parametrize("roles", [DP_ONLY, ALL_ROLES], ids=["dp", "five"])
@pytest.mark.parametrize("tier", list(Tier))
def test_no_tier_takes_more_bytes_a_row_than_is_told(tmp_path, tier, roles):
    file = open_file(tmp_path)
    fill(file, tier, points(roles), _SHORT_S[tier])

    assert BYTES_A_ROW[tier] / 2 < bytes_a_row(file, tier) <= BYTES_A_ROW[tier]


@pytest.mark.long
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("tier", list(Tier))
def test_ten_collectors_of_five_points_are_as_large_as_is_told_after_years(tmp_path, tier):
    file, whose = open_file(tmp_path), points(ALL_ROLES)
    fill(file, tier, whose, _WHOLE_S[tier])
    file.close()

    told = len(whose) * _WHOLE_S[tier] / {Tier.STEPS: 10, Tier.MINUTES: 60, Tier.HOURS: 3600}[tier]
    assert (tmp_path / "history.db").stat().st_size <= told * BYTES_A_ROW[tier]
    (tmp_path / "history.db").unlink()


def test_a_file_filled_at_speed_is_as_large_as_one_that_a_daemon_wrote(tmp_path):
    """Rows that are merged again and again, and grow with it, leave no more room unused than rows put in whole."""
    lived, filled = open_file(tmp_path / "lived"), open_file(tmp_path / "filled")
    whose = points(ALL_ROLES, 20)
    live(lived, whose, 3 * 3600)
    for tier in Tier:
        fill(filled, tier, whose, 3 * 3600)

    for tier in (Tier.STEPS, Tier.MINUTES):
        assert bytes_a_row(lived, tier) == pytest.approx(bytes_a_row(filled, tier), rel=0.06)


def test_with_room_enough_everything_fits():
    fit_s = fitting_s(StoreSettings(folder=None, max_history_mb=4_000), points=50)

    assert fit_s == {Tier.STEPS: 90 * DAY_S, Tier.MINUTES: 400 * DAY_S, Tier.HOURS: 1_830 * DAY_S}


def test_the_usual_bound_keeps_five_years_of_hours_of_ten_collectors():
    fit_s = fitting_s(StoreSettings(folder=None), points=50)

    assert fit_s[Tier.HOURS] == 1_830 * DAY_S
    assert fit_s[Tier.STEPS] == 7 * DAY_S
    assert 31 * DAY_S < fit_s[Tier.MINUTES] < 400 * DAY_S


def test_where_not_even_the_hours_fit_it_is_told():
    fit_s = fitting_s(StoreSettings(folder=None), points=2_000)

    assert 100 * DAY_S < fit_s[Tier.HOURS] < 1_830 * DAY_S
    assert fit_s[Tier.STEPS] == fit_s[Tier.MINUTES] == 0
    assert fitting_s(StoreSettings(folder=None), points=0)[Tier.STEPS] == 90 * DAY_S


@pytest.mark.parametrize("count", [1, 50, 300, 2_000])
def test_what_fits_fills_the_file_and_no_more(count):
    settings = StoreSettings(folder=None, max_history_mb=200)
    fit_s = fitting_s(settings, count)
    rows = {Tier.STEPS: 10.0, Tier.MINUTES: 60.0, Tier.HOURS: 3600.0}
    needed = sum(count * BYTES_A_ROW[tier] * fit_s[tier] / length_s for tier, length_s in rows.items())

    assert needed <= 200e6 * 1.000001
    assert count == 1 or needed >= 199e6
