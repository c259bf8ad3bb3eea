"""The process keeps the handbook's relations, the account of its dust, and the cleaning controller's word."""

import math
import random
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.plant import physics
from monitor.plant.airway import flow_cfm
from monitor.plant.cloth import ClothRows
from monitor.plant.mishaps import Mishap, Way, usual
from monitor.plant.process import Process, Stride
from monitor.plant.trial import Ageing, Build, Change, Cleaning, Cloth, Fan, Mode, Trial, Work, cycles
from monitor.troubles import Trouble

HOUR_S = 3600.0
# The worked example of EPA/452/B-02-001 Section 6 Chapter 1: one row, a fan that nothing slows, a pulse takes all.
V_FT_MIN = 4.689222265568
STIFF = Fan(flow_cfm=10_000.0, design_dp_inh2o=3.0, shut_off_inh2o=1e7, duct_inh2o=1.0, draught_inh2o=0.0)
STEADY = Work(load_gr_ft3=4.0, wander=0.0, swing_degf=0.0, damper_wander=0.0)
EXAMPLE = Build(
    cloth=Cloth(
        area_ft2=10_000.0 / V_FT_MIN,
        rows=1,
        k2=15.0,
        knocked_off=1.0,
        settles_again=0.0,
        unevenness=0.0,
        age_d=0.0,
        gain=0.0,
        fresh_share=1.0,
    ),
    fan=STIFF,
    work=STEADY,
    cleaning=Cleaning(
        mode=Mode.TIMED, pulse_every_s=1e-3, pause_s=600.0, header_psig=100.0, dip_psi=0.0, strong_psig=60.0
    ),
)
PLAIN = Build(work=STEADY)


def strides(build: Build, hours: float, *mishaps: Mishap, seed: int = 1) -> list[Stride]:
    trial = Trial(name="test", seed=seed, duration_s=hours * HOUR_S, build=build, mishaps=mishaps)
    return list(Process(trial).strides())


def after_pulse(all_of_them: list[Stride], number: int) -> list[Stride]:
    return [one for one in all_of_them if one.pulses == number]


def test_the_worked_example_of_the_handbook_comes_out() -> None:
    """Residual 1.4289084278 inH2O after a pulse at 100 psig, and ten minutes later 3.3136631811."""
    cycle = after_pulse(strides(EXAMPLE, 0.6), 2)
    assert cycle[0].dp0_inh2o == pytest.approx(1.4289084278, rel=1e-6)
    assert cycle[-1].end_s - cycle[0].begin_s == pytest.approx(600.0, abs=0.06)
    slope = (cycle[-1].dp1_inh2o - cycle[0].dp0_inh2o) / (cycle[-1].end_s - cycle[0].begin_s)
    assert cycle[0].dp0_inh2o + slope * 600.0 == pytest.approx(3.3136631811, rel=1e-6)


@pytest.mark.parametrize(("dp_inh2o", "minutes"), [(2.0, 3.0301), (2.5, 5.6829), (3.0, 8.3358)])
def test_the_sawtooth_reaches_each_height_when_the_linear_model_says(dp_inh2o: float, minutes: float) -> None:
    # Computed from the same worked example: slope 0.1884755 inH2O/min.
    cycle = after_pulse(strides(EXAMPLE, 0.6), 2)
    reached = next(one for one in cycle if one.dp1_inh2o >= dp_inh2o)
    share = (dp_inh2o - reached.dp0_inh2o) / (reached.dp1_inh2o - reached.dp0_inh2o)
    at_s = reached.begin_s + share * (reached.end_s - reached.begin_s)
    assert (at_s - cycle[0].begin_s) / 60.0 == pytest.approx(minutes, abs=1e-3)


@pytest.mark.parametrize(("psig", "residual"), [(60.0, 1.9916), (80.0, 1.6519)])
def test_weak_pulses_leave_a_higher_residual_dp(psig: float, residual: float) -> None:
    # Computed from EPA/452/B-02-001: 6.08·V·Pj^-0.65.
    build = replace(EXAMPLE, cleaning=replace(EXAMPLE.cleaning, header_psig=psig))
    assert after_pulse(strides(build, 0.3), 1)[0].dp0_inh2o == pytest.approx(residual, abs=5e-5)


def test_rows_side_by_side_share_the_air_by_their_drags() -> None:
    """Q = ΔP·Σ(A/S): two equal areas with drags 0.5 and 1.0 pass 3 ft/min together at 2 inH2O."""
    build = replace(PLAIN, cloth=Cloth(area_ft2=1000.0, rows=2, unevenness=0.0, fresh_share=0.0, gain=0.0))
    rows = ClothRows(build, random.Random(1))
    rows.look(usual(build), 1.0)
    media = physics.residual_drag(90.0)
    rows.dust_lb_ft2 = [(0.5 - media) / 15.0, (1.0 - media) / 15.0]
    assert rows.conductance() * 2.0 == pytest.approx(500.0 * 2.0 / 0.5 + 500.0 * 2.0 / 1.0)


def test_the_cleaner_row_takes_the_more_dust() -> None:
    build = replace(PLAIN, cloth=Cloth(rows=2, unevenness=0.0))
    rows = ClothRows(build, random.Random(1))
    rows.look(usual(build), 1.0)
    rows.dust_lb_ft2 = [0.0, 0.05]
    rows.conductance()
    rows.lay(4.0, 3.0 / 7000.0, 1.0)
    clean, dusty = rows.dust_lb_ft2[0], rows.dust_lb_ft2[1] - 0.05
    assert clean > 2.0 * dusty > 0.0


@given(
    trouble=st.sampled_from(list(Trouble)),
    severity=st.floats(0.0, 1.0),
    mode=st.sampled_from(list(Mode)),
    seed=st.integers(0, 1000),
)
@settings(max_examples=25, deadline=None)
def test_dust_is_neither_made_nor_lost(trouble: Trouble, severity: float, mode: Mode, seed: int) -> None:
    """What came in hangs on the cloth, lies in the hopper, or went through a tear."""
    build = Build(cleaning=Cleaning(mode=mode, pause_s=300.0))
    mishap = Mishap(trouble=trouble, from_h=0.3, to_h=1.0, severity=severity, ramp_h=0.3)
    process = Process(Trial(name="test", seed=seed, duration_s=1.3 * HOUR_S, build=build, mishaps=(mishap,)))
    before_lb = process.rows.on_cloth_lb()
    for _ in process.strides():
        pass
    rows = process.rows
    held_lb = rows.on_cloth_lb() - before_lb
    assert rows.dust_in_lb > 0.0
    assert held_lb + rows.hopper_lb + rows.through_lb == pytest.approx(rows.dust_in_lb, rel=1e-9)
    assert (rows.through_lb > 0.0) == (trouble is Trouble.TORN_BAG)


@given(trouble=st.sampled_from(list(Trouble)), severity=st.floats(0.0, 1.0), way=st.sampled_from(list(Way)))
@settings(max_examples=25, deadline=None)
def test_the_dp_is_always_a_number_and_never_below_nothing(trouble: Trouble, severity: float, way: Way) -> None:
    mishap = Mishap(trouble=trouble, from_h=0.2, to_h=0.8, severity=severity, ramp_h=0.2, way=way)
    for one in strides(Build(), 1.0, mishap):
        assert 0.0 <= one.dp1_inh2o < 25.0
        assert 0.0 <= one.header_psig <= 90.0
        assert one.end_s > one.begin_s


def test_a_fan_at_its_design_point_moves_its_design_flow() -> None:
    fan = Fan()
    cloth = fan.flow_cfm / fan.design_dp_inh2o
    assert flow_cfm(fan, 1.0, 1.0, cloth) == pytest.approx(fan.flow_cfm, rel=1e-2)
    assert flow_cfm(replace(fan, draught_inh2o=0.0), 1.0, 1.0, cloth) == pytest.approx(fan.flow_cfm, rel=1e-12)


def test_on_demand_cleaning_goes_from_the_start_point_down_to_the_stop_point() -> None:
    found = cycles(Trial(name="test", duration_s=6 * HOUR_S, build=PLAIN))
    assert len(found) > 20
    for one in found[:-1]:
        assert one.finished
        assert one.peak_inh2o == pytest.approx(5.0, abs=0.02)
        assert 3.7 < one.residual_inh2o <= 4.0
        assert one.pulses >= 3


def test_whole_rounds_end_with_the_last_row() -> None:
    build = replace(PLAIN, cleaning=Cleaning(mode=Mode.ROUNDS))
    found = cycles(Trial(name="test", duration_s=6 * HOUR_S, build=build))[:-1]
    assert found
    assert all(one.pulses % build.cloth.rows == 0 for one in found)


def test_the_clock_cleans_one_round_after_each_pause() -> None:
    build = replace(PLAIN, cleaning=Cleaning(mode=Mode.TIMED, pause_s=400.0))
    found = cycles(Trial(name="test", duration_s=6 * HOUR_S, build=build))[:-1]
    assert {one.pulses for one in found} == {build.cloth.rows}
    gaps = {round(after.begin_s - before.begin_s) for before, after in pairwise(found)}
    assert gaps == {480}


def test_pulsing_all_the_time_has_no_cycles() -> None:
    build = replace(PLAIN, cleaning=Cleaning(mode=Mode.TIMED))
    assert cycles(Trial(name="test", duration_s=HOUR_S, build=build)) == ()


def test_each_pulse_dips_the_header_and_the_header_recovers() -> None:
    all_of_them = strides(PLAIN, 2.0)
    firsts = [after for before, after in pairwise(all_of_them) if after.pulses > before.pulses]
    assert firsts
    for one in firsts:
        assert one.header_psig == pytest.approx(90.0 - 24.0, abs=1.0)
    # The next row is called ten seconds on: four time constants.
    assert firsts[1].header_psig > 0.7 * 90.0
    calm = [one for one in all_of_them if not one.cleaning and one.begin_s - one.pulse_s > 20.0]
    assert min(one.header_psig for one in calm) > 89.9


def test_a_stopped_fan_coasts_and_then_there_is_no_dp() -> None:
    stop = Mishap(trouble=Trouble.FAN_STOPPED, from_h=1.0)
    all_of_them = strides(PLAIN, 1.2, stop)
    coasting = [one for one in all_of_them if HOUR_S <= one.begin_s < HOUR_S + 30.0]
    assert coasting[0].dp0_inh2o > 3.0
    assert [one.turns for one in coasting] == sorted((one.turns for one in coasting), reverse=True)
    assert 0.0 < coasting[len(coasting) // 3].turns < 1.0
    assert all_of_them[-1].dp1_inh2o < 0.05
    assert not all_of_them[-1].cleaning


def test_working_hours_are_kept_and_the_cloth_is_pulsed_after_the_stop() -> None:
    build = replace(
        PLAIN, work=replace(STEADY, days=5, from_h=6.0, to_h=22.0), cleaning=Cleaning(clean_down_pulses=12)
    )
    process = Process(Trial(name="test", duration_s=7 * 24 * HOUR_S, build=build))
    ran_s = stopped_pulses = 0.0
    pulses = 0
    for one in process.strides():
        ran_s += (one.end_s - one.begin_s) * one.fan
        stopped_pulses += (one.pulses - pulses) * (not one.fan)
        pulses = one.pulses
    assert ran_s == pytest.approx(5 * 16 * HOUR_S, abs=10 * 60.0)
    assert stopped_pulses == 5 * 12


def test_new_filters_resist_less_and_age_again() -> None:
    worn = replace(PLAIN, cloth=Cloth(age_d=600.0, gain=1.0))
    trial = Trial(name="test", duration_s=4 * HOUR_S, build=worn, changes=(Change(at_h=2.0, new_filters=True),))
    all_of_them = list(Process(trial).strides())
    before = [one for one in all_of_them if one.filters == 0][-1]
    after = [one for one in all_of_them if one.filters == 1]
    assert before.residual_drag == pytest.approx(2.0 * physics.residual_drag(90.0), rel=0.02)
    assert after[0].residual_drag == pytest.approx(0.6 * physics.residual_drag(90.0), rel=0.02)
    assert after[0].dust_lb_ft2 < before.dust_lb_ft2
    assert after[-1].residual_drag > after[0].residual_drag


@pytest.mark.parametrize(
    ("law", "half"), [(Ageing.LINEAR, 0.5), (Ageing.SQUARE_ROOT, 0.5**0.5), (Ageing.ACCELERATING, 0.5**1.6)]
)
def test_filters_age_by_their_law(law: Ageing, half: float) -> None:
    def drag(age_d: float) -> float:
        cloth = Cloth(age_d=age_d, gain=1.0, term_d=400.0, ageing=law, fresh_share=1.0)
        return strides(replace(PLAIN, cloth=cloth), 0.01)[-1].residual_drag

    new = physics.residual_drag(90.0)
    assert drag(400.0) == pytest.approx(2.0 * new, rel=1e-3)
    assert drag(200.0) == pytest.approx((1.0 + half) * new, rel=1e-3)


def test_the_same_seed_gives_the_same_plant_and_another_seed_another() -> None:
    first, again, other = (strides(Build(), 1.0, seed=seed) for seed in (1, 1, 2))
    assert first == again
    assert first != other
    assert all(math.isfinite(one.dp1_inh2o) for one in other)


def test_luck_makes_each_pulse_another_and_none_of_them_makes_dust() -> None:
    even, lucky = (
        cycles(Trial(name="test", duration_s=12 * HOUR_S, build=replace(PLAIN, cloth=Cloth(luck=luck))))
        for luck in (0.0, 0.4)
    )
    assert len({one.pulses for one in lucky[:-1]}) > len({one.pulses for one in even[:-1]})
    assert len(lucky) == pytest.approx(len(even), rel=0.2)
