"""Filters in the site file: what each key comes to, computed by hand."""

from pathlib import Path

import pytest

from monitor.interpret.settings import CleaningMode
from monitor.report.permit.settings import ValidHour
from monitor.site.load import load
from monitor.troubles import Sign
from monitor.words import Priority

GOOD = Path(__file__).parents[2] / "fixtures" / "site" / "good"


@pytest.fixture(scope="module")
def plan():
    return load(GOOD / "filters.yaml", {})


def test_how_it_is_cleaned(plan):
    cleaning = plan.collectors["DC-102"].curve.cleaning

    assert cleaning.mode is CleaningMode.TIMED
    assert (cleaning.pulse_every_s, cleaning.pulse_s, cleaning.rows) == (6.0, 0.15, 10)
    assert (cleaning.start_inh2o, cleaning.stop_inh2o) == (None, None)


def test_the_set_in_service(plan):
    filters = plan.collectors["DC-102"].curve.filters

    assert filters.installed_utc_s == 1772323200.0  # date -u -d 2026-03-01 +%s
    assert filters.change_out_inh2o == pytest.approx(1500 / 249.08891)
    assert filters.lead_time_s == 8 * 86400
    # A cubic foot is 0.028316846592 m³ exactly.
    assert filters.design_flow_cfm == pytest.approx(20000 / 60 / 0.028316846592)


def test_air_in_cubic_feet_and_its_cost_for_a_thousand_of_them(plan):
    air = plan.collectors["DC-102"].curve.air

    assert air.per_pulse_ft3 == pytest.approx(0.1 / 0.028316846592)
    assert air.cost_per_1000_ft3 == pytest.approx(12 * 28.316846592 / 1000)
    assert (air.currency, air.rated_pulses) == ("EUR", 500000)


def test_all_early_warnings_are_alarms_with_tags_of_their_own(plan):
    warnings = plan.collectors["DC-102"].warnings

    assert set(warnings) == set(Sign)
    assert warnings[Sign.SIGNAL_STILL].tag == "PDT-102-STILL"
    assert {one.priority for one in warnings.values()} == {Priority.LOW}


def test_no_early_warning_is_an_alarm_unasked():
    assert load(GOOD / "first.yaml", {}).collectors["DC-101"].warnings == {}


def test_the_curve_is_read_in_any_case():
    assert load(GOOD / "first.yaml", {}).collectors["DC-101"].curve is not None


def test_what_a_permit_asks_for(plan):
    permit = plan.permits["DC-102"]

    assert plan.time_zone == "America/Chicago"
    assert permit.valid_hour is ValidHour.TWO_POINTS
    assert (permit.low_inh2o, permit.high_inh2o, permit.average_h) == (None, 6.0, 3)
    assert (permit.least_available, permit.keep_s) == (0.9, 730 * 86400)
