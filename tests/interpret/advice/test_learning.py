"""What the data says is learnt, and what it cannot carry is refused by name."""

from dataclasses import replace

import pytest

from monitor.interpret.advice.drives import drives, usual
from monitor.interpret.advice.learning import Habits, Lack, learn
from monitor.interpret.settings import CleaningMode, CleaningSettings
from tests.interpret.advice.days import even_cycles, even_seen

SET = CleaningSettings(start_inh2o=5.0, stop_inh2o=4.0)


def test_even_cycles_are_learnt_and_come_out_again():
    habits = learn(SET, even_seen())

    assert isinstance(habits, Habits)
    # 40 pairs less the first: 340 s each, 254.1 a day, 5 pulses each.
    assert habits.measured.cleanings_d == pytest.approx(86_400 / 340)
    assert abs(habits.error) < 0.05
    assert habits.replayed.pulses_d == pytest.approx(habits.measured.pulses_d, rel=0.15)
    assert habits.rise_inh2o_s == pytest.approx(1.0 / 300)


def test_rise_and_pull_of_one_cycle_by_hand():
    # From 4 to 5 in 300 s; in 40 s of cleaning dust brings 0.1333 more, so 5 pulses took 1.1333: 0.2267 each.
    found = drives(usual(even_cycles(3)))

    assert len(found) == 2
    assert found[0].rise_inh2o_s == pytest.approx(1 / 300)
    assert found[0].pull_inh2o == pytest.approx(1.13333 / 5, abs=1e-4)
    assert found[0].level_inh2o == pytest.approx(4.5)


@pytest.mark.parametrize(
    ("settings", "more", "lack"),
    [
        (SET, {"readings": 0}, Lack.NO_DP),
        (SET, {"running_s": 100.0}, Lack.FAN_STOPPED),
        (SET, {"running_s": 100.0, "watched_s": 200.0}, Lack.TOO_SHORT),
        (replace(SET, mode=CleaningMode.TIMED), {}, Lack.TIMED),
        (SET, {"cycles": ()}, Lack.NO_CYCLES),
        (SET, {"cycles": tuple(even_cycles(5))}, Lack.TOO_SHORT),
        (SET, {"cleaning_s": 13_300.0}, Lack.NEVER_ENDS),
    ],
)
def test_what_the_data_cannot_carry_is_refused(settings, more, lack):
    assert learn(settings, even_seen(**more)) is lack


def test_a_pulse_interval_that_cannot_be_right_is_not_believed():
    # Five pulses a minute apart take 240 s, where the cleaning took 40.
    assert learn(replace(SET, pulse_every_s=60.0), even_seen()) is Lack.NOT_REPRODUCED


def test_set_points_that_nobody_says_are_taken_from_the_curve():
    habits = learn(CleaningSettings(), even_seen(even_cycles(start=5.23, stop=4.18)))

    assert not habits.are_known
    assert habits.start_inh2o == 5.2
    assert habits.stop_inh2o == pytest.approx(4.2, abs=0.11)


def test_a_trouble_drives_nothing():
    cycles = even_cycles(20)
    odd = cycles[10]._replace(peak_inh2o=7.7)
    told = usual([*cycles[:10], odd, *cycles[11:]])

    assert all(one.cycle.peak_inh2o == 5.0 for one in told)
    assert len(told) == 18


def test_a_dip_within_a_cycle_makes_it_odd():
    cycles = even_cycles(20)
    lows = [4.0] * 10 + [2.4] + [4.0] * 9

    assert len(usual(cycles, lows)) == 18


def test_cycles_that_do_not_follow_at_once_are_no_pair():
    later = even_cycles(10, begins_s=100_000.0)
    told = usual([*even_cycles(10), later[0]._replace(cycle_s=None), *later[1:]])

    assert len(told) == 18
