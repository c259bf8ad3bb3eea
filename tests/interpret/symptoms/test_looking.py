"""Looking at whole days: each sign comes up for its trouble and for nothing else."""

import pytest

from monitor.interpret.symptoms.looking import symptoms
from tests.interpret.symptoms.days import Day


@pytest.fixture(scope="module")
def known() -> Day:
    return Day().played(14.0)


def test_a_day_in_good_order_has_usual_values_and_no_signs(known):
    now = symptoms(known.looking)

    assert known.signs == []
    assert now.cycles_usual_h == pytest.approx(5.0, abs=0.1)
    assert now.cleaning_usual_s == pytest.approx(120.0, abs=10)
    assert now.residual_usual_inh2o == pytest.approx(4.0)
    assert now.peak_usual_inh2o == pytest.approx(5.0)
    assert now.dp_usual_inh2o == pytest.approx(4.5, abs=0.2)
    assert now.header_usual_psi == pytest.approx(90.0)
    assert now.sawtooth is True
    assert now.answers_pulses is True
    assert now.stop_reached is True


def test_nothing_is_usual_in_the_first_half_hour():
    now = symptoms(Day().played(0.5).looking)

    assert now.cleaning_usual_s is None
    assert now.cycles_usual_h is None
    assert now.noise_calmest_inh2o is None


def test_cleaning_that_does_not_pull_is_told_within_ten_minutes_of_its_beginning(known):
    dead = known.but(works=False).played(0.4)

    assert dead.signs == ["cleaning_without_effect"]
    now = symptoms(dead.looking)
    assert now.cleaning is True
    assert now.stop_reached is False
    assert now.answers_pulses is False


def test_it_is_taken_back_once_cleaning_works_again(known):
    mended = known.but(works=False).played(0.4).but(works=True, dp=5.0, phase_s=600.0).played(1.0)

    assert mended.signs == []


def test_four_times_as_many_cleanings_are_told_and_twice_are_not(known):
    assert known.but(rise_s=240.0).played(3.0).signs == []
    assert "cleaning_too_often" in known.but(rise_s=60.0).played(3.0).signs


def test_a_header_that_lost_its_pressure_is_told_within_five_minutes(known):
    assert known.but(header_psi=30.0).played(0.08).signs == ["header_not_recovering"]


def test_a_step_down_between_cleanings_is_told_after_it_stayed(known):
    rising = known
    while not 200.0 < rising.phase_s < 260.0:
        rising = rising.played(0.01)
    torn = rising.but(offset_inh2o=-0.8).played(0.1)
    assert torn.signs == []
    assert symptoms(torn.looking).step_inh2o == pytest.approx(-0.8, abs=0.1)
    assert torn.played(0.15).signs == ["dp_stepped_down"]


def test_a_step_that_comes_back_is_not_told(known):
    rising = known
    while not 200.0 < rising.phase_s < 260.0:
        rising = rising.played(0.01)
    back = rising.but(offset_inh2o=-0.8).played(0.05).but(offset_inh2o=0.0).played(0.4)
    assert back.signs == []


def test_a_held_value_is_told_within_minutes(known):
    assert known.but(held_inh2o=4.4).played(0.1).signs == ["signal_still"]


def test_noise_that_collapses_is_told_within_a_quarter_of_an_hour(known):
    assert known.but(unrest=0.0008 / 20).played(0.3).signs == ["signal_still"]


def test_noise_that_halves_is_a_calm_day(known):
    assert known.but(unrest=0.0008 / 2).played(2.0).signs == []


def test_a_stopped_fan_is_no_sign_and_brings_none_afterwards(known):
    stopped = known.but(fan=False).played(8.0)
    assert stopped.signs == []
    now = symptoms(stopped.looking)
    assert now.fan is False
    assert now.fan_off_dp_inh2o == pytest.approx(0.0, abs=0.1)
    assert now.dp_inh2o is None
    assert stopped.but(fan=True).played(2.0).signs == []


def test_a_hole_of_hours_is_no_sign(known):
    assert known.but(now_s=known.now_s + 5 * 3600.0).played(2.0).signs == []


def test_a_torn_bag_stands_until_there_was_time_for_a_repair(known):
    rising = known
    while not 200.0 < rising.phase_s < 260.0:
        rising = rising.played(0.01)
    torn = rising.but(offset_inh2o=-0.8).played(0.5)
    assert torn.signs == ["dp_stepped_down"]
    short = torn.but(fan=False).played(0.1).but(fan=True).played(1.5)
    assert short.signs == ["dp_stepped_down"]
    mended = torn.but(fan=False).played(1.0).but(fan=True, offset_inh2o=0.0).played(1.5)
    assert mended.signs == []


def test_new_filters_after_a_stop_begin_the_usual_values_anew(known):
    fresh = known.but(fan=False).played(4.0).but(fan=True, offset_inh2o=-2.5).played(1.2)
    assert symptoms(fresh.looking).residual_usual_inh2o is None or (
        symptoms(fresh.looking).residual_usual_inh2o < 2.0
    )
    assert fresh.signs == []
