"""The sawtooth goes as computed by hand, and obeys what any sawtooth obeys."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.interpret.advice.sawtooth import Teeth, replay, share
from monitor.plant import physics
from tests.interpret.advice.days import UTC, even_drives

TEETH = Teeth(5.0, 4.0, 2.0, 10.0)


def test_one_cycle_by_hand():
    # A pulse takes 0.25 inH2O at 4.5, of 2.5 above the floor: a tenth. The dust brings 0.2 inH2O a minute.
    # 5.0 → 4.7; 4.7333 → 4.46; 4.4933 → 4.244; 4.2773 → 4.0496; 4.0829 → 3.8746: five pulses in 40 s.
    # From 3.8746 to 5 in 337.6 s: a cycle of 377.6 s, 228.8 a day.
    told = replay(even_drives(10 * 86_400.0), TEETH)

    assert told.residual_inh2o == pytest.approx(3.8746, abs=1e-4)
    assert told.pulses / told.ends == pytest.approx(5.0)
    assert told.cleanings / 10 == pytest.approx(228.8, abs=0.2)
    assert told.cleaning_s / told.span_s == pytest.approx(40 / 377.6, abs=1e-3)


def test_the_time_of_filtration_is_that_of_the_cost_manual():
    # EPA/452/B-02-001 Section 6 Chapter 1, the fly ash example: 0.18848 inH2O/min.
    air = {"k2": 15.0, "dust_lb_ft3": 4.0 / 7000.0, "velocity_ft_min": 4.689222}
    slope = physics.slope_inh2o_min(**air)
    told = replay(even_drives(86_400.0, slope, 1.0, 3.0), Teeth(3.0, 2.0, 1.43, 10.0), with_path=True)
    cleans = [bend.utc_s for bend in told.path if bend.cleaning and bend.dp_inh2o == pytest.approx(3.0)]

    assert slope == pytest.approx(0.1884755, abs=1e-6)
    minutes = physics.minutes_between_inh2o(told.path[0].dp_inh2o, 3.0, **air)
    assert (cleans[0] - UTC) / 60.0 == pytest.approx(minutes, abs=1e-3)


def test_without_dust_nothing_is_cleaned():
    told = replay(even_drives(rise_inh2o_min=0.0), TEETH)

    assert told.pulses == 0
    # A line begins half a pull under stop: a tenth of 2 inH2O is a whole one.
    assert told.mean_inh2o == pytest.approx(3.9, abs=0.01)


def test_under_more_dust_than_a_pulse_takes_cleaning_never_ends():
    # A tenth of 2 inH2O each 10 s is all that goes at 4.0: 1.2 inH2O a minute; 1.5 come.
    told = replay(even_drives(rise_inh2o_min=1.5), TEETH)

    assert told.ends == 0
    assert told.cleaning_s / told.span_s > 0.99
    # It hangs where a pulse takes what dust brings: 0.1 · (DP - 2) = 0.25 just before each.
    assert told.mean_inh2o == pytest.approx(4.5 - 0.125, abs=0.02)


def test_a_hole_begins_a_new_line():
    drives = even_drives(3600.0)
    later = drives[0]._replace(begin_utc_s=UTC + 7200.0, end_utc_s=UTC + 10_800.0)

    told = replay([*drives, later], TEETH, with_path=True)

    assert [bend.utc_s for bend in told.path if bend.begins] == [UTC, UTC + 7200.0]
    assert told.span_s == pytest.approx(7200.0)


@settings(deadline=None)
@given(st.floats(0.02, 0.5), st.floats(2.5, 5.0), st.floats(0.3, 2.0))
def test_dust_and_pulses_balance(rise, stop, gap):
    drives = even_drives(7200.0, rise)
    told = replay(drives, Teeth(stop + gap, stop, 2.0, 10.0), with_path=True)
    taken = sum(
        before.dp_inh2o - after.dp_inh2o
        for before, after in zip(told.path, told.path[1:], strict=False)
        if after.utc_s == before.utc_s
    )

    assert told.path[-1].dp_inh2o - told.path[0].dp_inh2o == pytest.approx(
        rise / 60 * told.span_s - taken, abs=1e-3
    )


@settings(deadline=None)
@given(st.floats(0.02, 0.3), st.floats(3.0, 5.0))
def test_higher_set_points_never_need_more_pulses(rise, stop):
    drives = even_drives(43_200.0, rise)
    low, high = (replay(drives, Teeth(one + 1.0, one, 2.0, 10.0)) for one in (stop, stop + 0.5))

    assert high.pulses <= low.pulses * 1.1 + 5


@given(st.floats(0.0, 4.4))
def test_a_pulse_at_its_own_level_takes_what_was_measured(floor):
    drive = even_drives()[0]

    assert share(drive, floor) * (drive.level_inh2o - floor) == pytest.approx(min(0.25, 0.9 * (4.5 - floor)))


def test_a_soft_fan_brings_less_dust_at_a_higher_dp():
    told = replay(even_drives(10 * 86_400.0), TEETH._replace(rise_factor=0.5))

    assert told.cleanings / 10 == pytest.approx(228.8 / 2, rel=0.1)
