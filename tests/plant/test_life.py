"""A life wears out by its law, and is observed through weather and noise."""

import math
from itertools import pairwise

import pytest

from monitor.plant import physics
from monitor.plant.life import Cleaned, Law, Life, life
from monitor.plant.life_shape import Line, Shape, drawn
from monitor.plant.process import Process
from monitor.plant.trial import Build, Cleaning, Cloth, Fan, Mode, Trial, Work, cycles

DAY_S = 86400.0


@pytest.fixture(scope="module", name="lives")
def some_lives() -> list[Life]:
    return [life(seed, every_s=4 * 3600.0) for seed in range(1, 13)]


def test_the_same_seed_lives_the_same_life_and_another_another() -> None:
    first, again, other = (life(seed, every_s=DAY_S / 4) for seed in (1, 1, 2))
    assert first == again
    assert first.digests != other.digests


@pytest.mark.parametrize("shape", list(Shape))
@pytest.mark.parametrize("cleaned", list(Cleaned))
def test_the_limit_is_what_the_law_comes_to_on_the_true_day(cleaned: Cleaned, shape: Shape) -> None:
    one = life(5, cleaned=cleaned, shape=shape)
    law = one.law
    before, after = (
        law.residual_inh2o(law.drag(one.due_run_s + by_s), law.velocity_ft_min, 1.0) for by_s in (-DAY_S, DAY_S)
    )
    assert before < one.limit_inh2o < after


def test_the_true_day_is_a_day_of_running_that_was_observed(lives: list[Life]) -> None:
    for one in lives:
        until = [digest for digest in one.digests if digest.end_utc_s <= one.due_utc_s + 4 * 3600.0]
        run_s = sum(digest.end_s - digest.begin_s for digest in until if digest.fan)
        assert run_s == pytest.approx(one.due_run_s, abs=8 * 3600.0)


def test_a_life_goes_on_a_tenth_past_its_end(lives: list[Life]) -> None:
    for one in lives:
        run_s = sum(digest.end_s - digest.begin_s for digest in one.digests if digest.fan)
        assert run_s == pytest.approx(1.1 * one.due_run_s, rel=0.01)


def test_what_is_shown_on_the_true_day_lies_about_the_limit(lives: list[Life]) -> None:
    """Weather and noise lie over it: within a fifth, over the ten days around."""
    for one in (one for one in lives if one.law.cleaned is Cleaned.ROUNDS):
        around = [
            cycle.residual_inh2o
            for cycle in one.cycles
            if cycle is not None and abs(cycle.end_utc_s - one.due_utc_s) < 5 * DAY_S
        ]
        assert sum(around) / len(around) == pytest.approx(one.limit_inh2o, rel=0.2)


def test_down_to_a_stop_point_the_residual_dp_stands_still_until_cleaning_never_ends() -> None:
    one = life(8, cleaned=Cleaned.TO_STOP)
    shown = [cycle.residual_inh2o for cycle in one.cycles if cycle is not None]
    tenth = len(shown) // 10
    assert sum(shown[:tenth]) / tenth == pytest.approx(sum(shown[-tenth:]) / tenth, rel=0.02)
    last = [
        cycle for digest, cycle in zip(one.digests, one.cycles, strict=True) if digest.end_utc_s > one.due_utc_s
    ]
    assert not any(last)


def test_digests_follow_one_another_without_a_hole(lives: list[Life]) -> None:
    for one in lives:
        assert all(after.begin_s == before.end_s for before, after in pairwise(one.digests))
        assert len(one.digests) == len(one.cycles)


def test_a_cycle_lies_within_its_digest(lives: list[Life]) -> None:
    for one in lives:
        for digest, cycle in zip(one.digests, one.cycles, strict=True):
            if cycle is not None:
                assert digest.begin_s <= cycle.end_s <= digest.end_s
                assert digest.fan


def test_flow_is_told_only_where_it_is_measured() -> None:
    without, with_flow = life(3, flow_measured=False), life(3, flow_measured=True)
    assert {digest.flow_cfm for digest in without.digests} == {None}
    assert all(digest.flow_cfm is not None for digest in with_flow.digests)
    assert without.filter_settings.design_flow_cfm is None
    assert with_flow.filter_settings.design_flow_cfm == with_flow.design_flow_cfm


def test_seasoned_new_cloth_resists_as_the_handbook_says() -> None:
    """EPA/452/B-02-001 Section 6 Chapter 1: 6.08·Pj^-0.65, for pulses of 70 to 100 psig."""
    for seed in range(20):
        new_drag = life(seed, every_s=DAY_S, longest_years=0.01).law.new_drag
        assert physics.residual_drag(100.0) <= new_drag <= physics.residual_drag(70.0)


def test_a_life_broken_off_early_knows_no_true_day() -> None:
    assert math.isinf(life(1, longest_years=0.1).due_utc_s)


def _one_row(mode: Mode, taken: float, **cleaning: float) -> Build:
    """One row, a fan that nothing slows down, and a pulse that takes so much of the dust."""
    return Build(
        cloth=Cloth(
            area_ft2=2000.0,
            rows=1,
            knocked_off=taken,
            settles_again=0.0,
            unevenness=0.0,
            gain=0.0,
            fresh_share=1.0,
        ),
        fan=Fan(flow_cfm=10_000.0, shut_off_inh2o=1e7, draught_inh2o=0.0),
        work=Work(load_gr_ft3=3.0, wander=0.0, swing_degf=0.0, damper_wander=0.0),
        cleaning=Cleaning(mode=mode, dip_psi=0.0, **cleaning),
    )


def _law(cleaned: Cleaned, **more: float) -> Law:
    return Law(
        cleaned=cleaned,
        new_drag=physics.residual_drag(90.0),
        gain=0.0,
        term_s=DAY_S,
        line=Line(),
        fresh_share=0.0,
        seasoning_s=DAY_S,
        velocity_ft_min=5.0,
        **{"taken": 0.7, "start_inh2o": 5.0, "stop_inh2o": 4.0, "dust_drag": 0.0} | more,
    )


def test_what_a_round_leaves_behind_is_what_the_process_leaves_pulse_by_pulse() -> None:
    """The balance by which a life goes, against the process that fires each pulse by itself."""
    trial = Trial(name="test", duration_s=4 * 3600.0, build=_one_row(Mode.ROUNDS, 0.7))
    residual = [one.residual_inh2o for one in cycles(trial)][-3]
    law = _law(Cleaned.ROUNDS)
    # Two seconds of dust lie on it before the controller looks.
    assert law.residual_inh2o(law.new_drag, 5.0, 1.0) == pytest.approx(residual, abs=0.01)


def test_what_the_clock_leaves_behind_is_what_the_process_leaves_pulse_by_pulse() -> None:
    build = _one_row(Mode.TIMED, 0.7, pause_s=600.0)
    trial = Trial(name="test", duration_s=6 * 3600.0, build=build, first_dp_inh2o=2.5)
    last = [stride for stride in Process(trial).strides() if stride.end_s - stride.pulse_s < 605.0]
    residual = min(stride.dp0_inh2o for stride in last[-60:])
    period_min = (600.0 + build.cleaning.pulse_every_s) / 60.0
    dust_drag = build.cloth.k2 * physics.areal_dust_lb_ft2(3.0 / physics.GRAINS_PER_LB, 5.0, period_min)
    law = _law(Cleaned.TIMED, dust_drag=dust_drag)
    assert law.residual_inh2o(law.new_drag, 5.0, 1.0) == pytest.approx(residual, abs=0.01)


@pytest.mark.parametrize("shape", list(Shape))
def test_every_line_only_rises_from_nothing_to_the_whole_at_the_end_of_the_term(shape: Shape) -> None:
    for seed in range(50):
        line = drawn(shape, 0.5 + seed / 40.0, seed)
        risen = [line.risen(step / 100.0) for step in range(121)]
        assert risen[0] == 0.0
        assert risen[100] == pytest.approx(1.0)
        assert risen == sorted(risen)


def test_the_shape_changes_the_ageing_and_not_the_weather() -> None:
    power, knee = (life(4, shape=shape, longest_years=0.2) for shape in (Shape.POWER, Shape.KNEE))
    assert [one.fan for one in power.digests] == [one.fan for one in knee.digests]
    assert power.digests != knee.digests
