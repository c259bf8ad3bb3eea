"""A trial shows what instruments would, and its truth does not depend on who looks how often."""

import math
from dataclasses import replace
from itertools import pairwise
from statistics import pstdev

import pytest

from monitor.plant.trial import Build, Change, Cleaning, Mishap, Mode, Signal, Trial, Way, Work, cycles, shown
from monitor.troubles import Trouble
from monitor.words import Reason

HOUR_S = 3600.0
QUIET = Signal(turbulence=0.0, slow_turbulence=0.0, spike_inh2o=0.0, sensor_inh2o=0.0, drift_inh2o=0.0, lag_s=0.01)


def trial(signal: Signal | None = None, hours: float = 2.0, **more: object) -> Trial:
    return Trial(name="test", duration_s=hours * HOUR_S, build=Build(signal=signal or Signal()), **more)


def test_the_same_seed_shows_the_same_and_another_another() -> None:
    first, again, other = (list(shown(trial(seed=seed))) for seed in (1, 1, 2))
    assert first == again
    assert first != other


def test_the_plant_does_not_care_how_often_or_with_what_it_is_looked_at() -> None:
    slow = replace(trial(), every_s=30.0)
    bare = trial(Signal(header=False, fan=False, cleaning=False, lost_share=0.2))
    assert cycles(slow) == cycles(bare) == cycles(trial())
    at = {round(one.sample.at_s): one.truth.pulses for one in shown(trial())}
    # A pulse may fall between two scans that are late by different parts of a second.
    differ = sum(at[round(one.sample.at_s)] != one.truth.pulses for one in shown(slow))
    assert differ <= 2


def test_scans_come_when_they_are_due_and_a_little_late() -> None:
    moments = [one.sample.at_s for one in shown(replace(trial(Signal(jitter_s=0.2)), every_s=10.0))]
    assert len(moments) == 720
    assert all(0.0 <= at_s - number * 10.0 <= 0.2 for number, at_s in enumerate(moments))


def test_a_quiet_instrument_shows_the_true_dp_to_its_resolution() -> None:
    for one in shown(trial(QUIET)):
        assert one.sample.dp_inh2o == pytest.approx(one.truth.dp_inh2o, abs=0.5 * QUIET.step_inh2o + 1e-9)


def test_readings_come_in_steps_of_the_resolution() -> None:
    for one in shown(trial(Signal(step_inh2o=0.05))):
        assert one.sample.dp_inh2o is not None
        assert math.isclose(one.sample.dp_inh2o / 0.05, round(one.sample.dp_inh2o / 0.05), abs_tol=1e-6)


def test_unrest_is_what_the_settings_say_and_has_a_memory() -> None:
    signal = replace(QUIET, turbulence=0.01, slow_turbulence=0.01, slow_s=20.0)
    off = [
        one.sample.dp_inh2o / one.truth.dp_inh2o - 1.0
        for one in shown(trial(signal, hours=10.0))
        if not one.truth.cleaning
    ]
    assert pstdev(off) == pytest.approx(0.01 * math.sqrt(2.0), rel=0.15)
    apart = sum(a * b for a, b in zip(off, off[5:], strict=False)) / len(off)
    assert apart == pytest.approx(0.01**2 * math.exp(-5.0 / 20.0), rel=0.3)


def test_damping_smooths_what_the_transmitter_sends() -> None:
    def steps(lag_s: float) -> float:
        values = [one.sample.dp_inh2o for one in shown(trial(Signal(lag_s=lag_s, spike_inh2o=0.0)))]
        return pstdev([b - a for a, b in pairwise(values)])

    assert steps(5.0) < 0.4 * steps(0.2)


def test_a_pulse_is_met_by_chance() -> None:
    """A spike of a third of a second shows in some scans after a pulse, and in most not at all."""
    spiky = replace(QUIET, spike_inh2o=1.0)
    off = [abs(one.sample.dp_inh2o - one.truth.dp_inh2o) for one in shown(trial(spiky, hours=6.0))]
    pulses = list(shown(trial(spiky, hours=6.0)))[-1].truth.pulses
    met = sum(error > 0.3 for error in off)
    assert 0.1 * pulses < met < 0.6 * pulses


def test_the_range_ends_where_the_loop_holds() -> None:
    """NAMUR NE 43: measurement information ends at 20.5 mA, 10.3125 of 0 to 10 inH2O."""
    mishap = Mishap(trouble=Trouble.PULSES_DEAD, from_h=0.0)
    values = [one.sample.dp_inh2o for one in shown(trial(hours=5.0, mishaps=(mishap,)))]
    assert max(values) == pytest.approx(10.3125, abs=0.0031)


def test_points_that_are_not_there_show_nothing() -> None:
    one = next(shown(trial(Signal(header=False, flow=False, fan=False, cleaning=False))))
    assert one.sample[3:] == (None, None, None, None)
    other = next(shown(trial(Signal(header=True, flow=True, fan=True, cleaning=True))))
    assert None not in other.sample


def test_a_scan_without_an_answer_is_bad_and_says_why() -> None:
    all_of_them = list(shown(trial(Signal(lost_share=0.1))))
    lost = [one for one in all_of_them if one.sample.dp_inh2o is None]
    assert len(lost) / len(all_of_them) == pytest.approx(0.1, abs=0.02)
    assert {one.reason for one in lost} == {Reason.NO_ANSWER}
    assert {one.reason for one in all_of_them if one.sample.dp_inh2o is not None} == {Reason.NONE}


def test_nobody_scans_while_everybody_is_away() -> None:
    moments = [one.sample.at_s for one in shown(trial(away=((0.5, 1.0),)))]
    assert not [at_s for at_s in moments if 0.5 * HOUR_S <= at_s < HOUR_S]
    assert len(moments) == 5400


def test_glitches_are_good_readings_that_are_wildly_off() -> None:
    all_of_them = list(shown(trial(replace(QUIET, glitch_share=0.01))))
    off = [one for one in all_of_them if abs(one.sample.dp_inh2o - one.truth.dp_inh2o) > 0.1]
    assert 0.005 < len(off) / len(all_of_them) < 0.015
    assert {one.reason for one in off} == {Reason.NONE}


def test_a_frozen_gateway_is_called_frozen_where_somebody_watches() -> None:
    mishap = Mishap(trouble=Trouble.GATEWAY_FROZEN, from_h=0.5, to_h=1.5)
    watched = list(shown(trial(Signal(frozen_after_s=600.0), mishaps=(mishap,))))
    frozen = [one.sample.at_s for one in watched if one.reason is Reason.FROZEN]
    assert frozen[0] == pytest.approx(0.5 * HOUR_S + 600.0, abs=3.0)
    assert frozen[-1] == pytest.approx(1.5 * HOUR_S, abs=2.0)
    assert all(one.others_alike == one.others for one in watched if one.reason is Reason.FROZEN)
    assert all(one.others_alike == 0 for one in watched if one.sample.at_s > 1.5 * HOUR_S)


def test_a_one_sided_plug_adds_what_both_taps_felt_together() -> None:
    """0.1 inH2O of common unrest is no longer cancelled; a step between two readings is √2 of that."""
    mishap = Mishap(trouble=Trouble.TAP_PLUGGED, from_h=0.0, way=Way.ONE_LINE, ramp_h=0.5)
    off = [
        one.sample.dp_inh2o - one.truth.dp_inh2o
        for one in shown(trial(replace(QUIET, common_inh2o=0.1), hours=3.0, mishaps=(mishap,)))
        if one.sample.at_s > 2 * HOUR_S
    ]
    assert pstdev([after - before for before, after in pairwise(off)]) == pytest.approx(0.1414, rel=0.1)


def test_set_points_that_people_move_are_kept_from_then_on() -> None:
    moved = trial(hours=6.0, changes=(Change(at_h=3.0, start_inh2o=4.4, stop_inh2o=3.6),))
    before = [one for one in cycles(moved) if one.end_s < 3 * HOUR_S]
    after = [one for one in cycles(moved) if one.begin_s > 3.5 * HOUR_S]
    assert all(one.peak_inh2o == pytest.approx(5.0, abs=0.02) for one in before)
    assert all(one.peak_inh2o == pytest.approx(4.4, abs=0.02) for one in after)
    assert before
    assert after


def test_batches_and_shifts_change_how_often_it_is_cleaned() -> None:
    build = Build(work=Work(wander=0.0, shifts=(1.0, 0.3)))
    found = cycles(Trial(name="test", duration_s=24 * HOUR_S, build=build))
    day = [one for one in found if one.begin_s < 12 * HOUR_S]
    night = [one for one in found if one.begin_s >= 12 * HOUR_S]
    assert len(night) < 0.45 * len(day)


def test_gates_make_the_flow_step() -> None:
    def flows(gates: int) -> list[float]:
        build = Build(signal=Signal(flow=True), work=Work(gates=gates, gate_share=0.15, damper_wander=0.0))
        return [
            one.sample.flow_cfm
            for one in shown(Trial(name="test", duration_s=8 * HOUR_S, every_s=60.0, build=build))
        ]

    assert pstdev(flows(6)) > 1.5 * pstdev(flows(0))


@pytest.mark.parametrize(
    ("mode", "start", "told"),
    [(Mode.ON_DEMAND, 5.0, "on-demand"), (Mode.ROUNDS, 5.0, "on-demand"), (Mode.TIMED, None, "timed")],
)
def test_what_a_site_file_would_say_of_the_cleaning(mode: Mode, start: float | None, told: str) -> None:
    said = Trial(name="test", build=Build(cleaning=Cleaning(mode=mode))).cleaning_settings
    assert (said.mode, said.start_inh2o, said.rows) == (told, start, 8)
