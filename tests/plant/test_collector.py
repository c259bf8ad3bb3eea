"""The collector keeps the linear drag model, the cleaning set points, and the account of its dust."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.plant import collector, physics
from monitor.plant.collector import CollectorSettings, CollectorState
from monitor.plant.scenario import Conditions

NORMAL = Conditions()
# Round figures, one row, no droop and no wandering: what is left is the handbook's linear model.
PLAIN = CollectorSettings(
    name="DC-101", cloth_ft2=4000.0, rows=1, flow_cfm=20_000.0, load_gr_ft3=3.0, first_dp_inh2o=4.0
)
ROWS = replace(PLAIN, rows=8, droop_cfm_inh2o=120.0, load_swing=0.2)

conditions = st.builds(Conditions, fan_commanded=st.booleans(), air_supply=st.booleans(), bags_torn=st.booleans())
deviates = st.floats(-3.0, 3.0)
stretches = st.lists(st.tuples(conditions, st.integers(1, 120), deviates), min_size=1, max_size=8)


def run(settings: CollectorSettings, state: CollectorState, now: Conditions, steps: int) -> list[CollectorState]:
    trace = []
    for _ in range(steps):
        state = collector.step(settings, state, now, 1.0)
        trace.append(state)
    return trace


def test_between_cleanings_the_dp_climbs_by_the_closed_form() -> None:
    """From stop to start set point it takes (5 - 4) / (K2·Ci·V²) minutes, as EPA/452/B-02-001 has it."""
    ci = PLAIN.load_gr_ft3 / physics.GRAINS_PER_LB
    velocity = PLAIN.flow_cfm / PLAIN.cloth_ft2
    minutes = physics.minutes_between_inh2o(4.0, 5.0, k2=PLAIN.k2, dust_lb_ft3=ci, velocity_ft_min=velocity)
    trace = run(PLAIN, collector.begin(PLAIN), NORMAL, 600)
    started = next(state.time_s for state in trace if state.cleaning)

    # The controller looks once a step: it may start up to one step after the crossing, plus the step itself.
    assert minutes * 60.0 <= started <= minutes * 60.0 + 2.0


def test_the_climb_is_a_straight_line() -> None:
    trace = run(PLAIN, collector.begin(PLAIN), NORMAL, 300)
    climbs = [after.dp_inh2o - before.dp_inh2o for before, after in pairwise(trace)]
    slope = physics.slope_inh2o_min(k2=15.0, dust_lb_ft3=3.0 / 7000.0, velocity_ft_min=5.0)

    assert min(climbs) == pytest.approx(slope / 60.0, rel=1e-9)
    assert max(climbs) == pytest.approx(slope / 60.0, rel=1e-9)


def test_cleaning_keeps_the_dp_between_its_set_points() -> None:
    trace = run(ROWS, collector.begin(ROWS), NORMAL, 7200)
    cycles = sum(after.cleaning and not before.cleaning for before, after in pairwise(trace))

    assert 8 <= cycles <= 20
    # Overshoot above is one step of climbing, below one pulse of one row in eight.
    assert max(state.dp_inh2o for state in trace) < 5.0 + 0.01
    assert min(state.dp_inh2o for state in trace[60:]) > 4.0 - 0.3


def test_rows_are_pulsed_in_turn_and_ten_seconds_apart() -> None:
    trace = run(ROWS, collector.begin(ROWS), NORMAL, 3600)
    pulsed = [state for state in trace if state.pulsed]
    rows = [(state.next_row - 1) % ROWS.rows for state in pulsed]

    assert rows == [number % ROWS.rows for number in range(len(rows))]
    assert min(b.time_s - a.time_s for a, b in pairwise(pulsed)) == 10.0


def test_each_pulse_dips_the_header_and_the_header_recovers() -> None:
    trace = run(ROWS, collector.begin(ROWS), NORMAL, 1200)
    first = next(index for index, state in enumerate(trace) if state.pulsed)

    assert trace[first].header_psig == pytest.approx(ROWS.header_psig - ROWS.dip_psi)
    assert trace[first + 9].header_psig > ROWS.header_psig - 0.1 * ROWS.dip_psi


def test_without_compressed_air_the_dp_climbs_through_the_alarm_and_comes_back_with_it() -> None:
    """Cleaning goes on firing, the header is empty, nothing comes off."""
    lost = run(ROWS, collector.begin(ROWS), Conditions(air_supply=False), 1500)
    assert lost[-1].dp_inh2o > 7.0
    # Two minutes on, the header is too empty to clean with, so from there it only climbs.
    tail = [state.dp_inh2o for state in lost[120:]]
    assert tail == sorted(tail)
    back = run(ROWS, lost[-1], NORMAL, 600)
    assert min(state.dp_inh2o for state in back) < 4.1


def test_a_standing_fan_means_no_dp_and_no_cleaning() -> None:
    stopped = run(ROWS, collector.begin(ROWS), Conditions(fan_commanded=False), 120)[-1]

    assert stopped.dp_inh2o == 0.0
    assert stopped.flow_cfm == 0.0
    assert not stopped.cleaning


def test_torn_bags_lower_the_dp_at_once() -> None:
    before = collector.begin(ROWS)
    torn = collector.step(ROWS, before, Conditions(bags_torn=True), 1.0)
    assert torn.dp_inh2o < 0.75 * before.dp_inh2o


def test_blinding_raises_the_residual_drag_of_cleaned_rows() -> None:
    blinding = replace(ROWS, blinding_per_h=0.5)
    aged = run(blinding, collector.begin(blinding), NORMAL, 7200)[-1]
    fresh = run(ROWS, collector.begin(ROWS), NORMAL, 7200)[-1]
    assert sum(aged.residual_drags) > 1.3 * sum(fresh.residual_drags)


@given(stretches)
def test_dust_is_neither_made_nor_lost(stretches: list[tuple[Conditions, int, float]]) -> None:
    """What the air brought hangs on the cloth, lies in the hopper, or went through a tear."""
    state = collector.begin(ROWS)
    before_lb = collector.dust_on_cloth_lb(ROWS, state)
    for now, steps, deviate in stretches:
        for _ in range(steps):
            state = collector.step(ROWS, state, now, 1.0, deviate)
    held_lb = collector.dust_on_cloth_lb(ROWS, state) - before_lb

    assert state.dust_in_lb == pytest.approx(
        held_lb + state.dust_off_lb + state.dust_through_lb, rel=1e-9, abs=1e-9
    )


@given(stretches)
def test_the_dp_is_never_negative_and_always_a_number(stretches: list[tuple[Conditions, int, float]]) -> None:
    state = collector.begin(ROWS)
    for now, steps, deviate in stretches:
        for _ in range(steps):
            state = collector.step(ROWS, state, now, 1.0, deviate)
            assert 0.0 <= state.dp_inh2o < 50.0
            assert 0.0 <= state.header_psig <= ROWS.header_psig
            if now.fan_commanded and state.fan_ratio > 0.0:
                assert state.dp_inh2o > 0.0
