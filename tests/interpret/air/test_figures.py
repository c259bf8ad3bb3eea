"""Worked examples, computed by hand beside each."""

from dataclasses import replace

import pytest

from monitor.interpret.air import count
from monitor.interpret.air.count import AirCount
from monitor.interpret.air.figures import ATMOSPHERE_PSI, Basis, air_figures, header_pulse_ft3, per_pulse, use
from monitor.interpret.settings import AirSettings, CleaningSettings, CurveSettings

UTC = 1_772_352_000.0
SETTINGS = CurveSettings(
    cleaning=CleaningSettings(start_inh2o=5.0, stop_inh2o=4.0, rows=8),
    air=AirSettings(per_pulse_ft3=1.5, cost_per_1000_ft3=0.30, currency="EUR"),
)
#: Two days in sight, one and a half of them running, 2,400 pulses.
COUNT = AirCount(UTC, UTC + 172_800, 172_800.0, 172_800.0, 129_600.0, 24_000.0, 300, 2390.0, 1200.0, 10.0)


def test_one_atmosphere_of_dip_frees_the_volume_of_the_header():
    assert header_pulse_ft3(3.0, ATMOSPHERE_PSI) == pytest.approx(3.0)
    assert pytest.approx(101_325 / 6894.757, abs=1e-4) == ATMOSPHERE_PSI


def test_a_header_of_two_cubic_feet_that_dips_by_24_psi():
    # 2 ft³ · 24 psi / 14.6959 psi = 3.2662 ft³
    assert header_pulse_ft3(2.0, 24.0) == pytest.approx(3.2662, abs=1e-4)


@pytest.mark.parametrize(
    ("given", "header", "dip", "told"),
    [
        (1.5, 2.0, 24.0, (1.5, Basis.GIVEN)),
        (None, 2.0, 24.0, (pytest.approx(3.2662, abs=1e-4), Basis.HEADER)),
        (None, 2.0, None, (None, Basis.UNKNOWN)),
        (None, None, 24.0, (None, Basis.UNKNOWN)),
    ],
)
def test_what_the_site_gives_comes_before_what_the_header_says(given, header, dip, told):
    assert per_pulse(AirSettings(per_pulse_ft3=given, header_volume_ft3=header), dip) == told


def test_pulses_a_day_come_to_air_money_and_life():
    # 1,200 · 1.5 = 1,800 ft³; 1.8 · 0.30 = 0.54 EUR; 1,000,000 · 8 rows / 1,200 = 6,666.7 days
    told = use(SETTINGS, 1200.0, 1.5)

    assert told == (1200.0, pytest.approx(1800.0), pytest.approx(0.54), pytest.approx(6666.67, abs=0.01))


def test_a_day_and_a_half_of_running_in_two_days():
    told = air_figures(SETTINGS, COUNT)

    # 2,400 pulses in 2 days: 1,200 a day, 1,800 ft³, 0.54 EUR. Timed: 129,600 s / 10 s = 12,960 pulses in 2 days:
    # 6,480 a day, 9,720 ft³, 2.916 EUR. Saved: 7,920 ft³ and 2.376 EUR a day.
    assert (told.watched_days, told.running_days, told.pulses) == (2.0, 1.5, 2400.0)
    assert told.counted_share == pytest.approx(0.5)
    assert told.used[:3] == (pytest.approx(1200), pytest.approx(1800), pytest.approx(0.54))
    assert told.timed[:3] == (pytest.approx(6480), pytest.approx(9720), pytest.approx(2.916))
    assert (told.saved_ft3_d, told.saved_cost_d) == (pytest.approx(7920), pytest.approx(2.376))
    # 2,400 pulses over 8 rows: 300 each, of a million; 150 a day: 999,700 / 150 = 6,664.67 days from now.
    assert (told.pulses_each, told.worn_share) == (300.0, pytest.approx(0.0003))
    assert told.worn_utc_s == pytest.approx(UTC + 172_800 + 999_700 / 150 * 86_400)


def test_a_diaphragm_over_its_rating_was_used_up_before():
    worn = air_figures(replace(SETTINGS, air=replace(SETTINGS.air, rated_pulses=200)), COUNT)

    assert worn.worn_share == pytest.approx(1.5)
    assert worn.worn_utc_s < COUNT.until_utc_s


def test_what_is_not_known_is_not_claimed():
    told = air_figures(CurveSettings(), COUNT)

    assert (told.per_pulse_ft3, told.basis, told.saved_ft3_d, told.saved_cost_d) == (
        None,
        Basis.UNKNOWN,
        None,
        None,
    )
    assert (told.pulses_each, told.worn_share, told.worn_utc_s) == (None, None, None)
    assert told.used.pulses_d == pytest.approx(1200)


def test_no_rate_is_told_of_less_than_an_hour():
    assert air_figures(SETTINGS, COUNT._replace(watched_s=3599.0)).used is None
    assert air_figures(SETTINGS, count.BEGIN).used is None


def test_nothing_pulsed_wears_nothing():
    told = air_figures(SETTINGS, COUNT._replace(pulses=0.0, open_pulses=0.0, counted=0.0))

    assert (told.used.diaphragm_days, told.worn_utc_s, told.worn_share) == (None, None, 0.0)
