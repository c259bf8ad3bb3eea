"""Pulses are counted whole: of cycles, of cleanings that never end, of timed cleaning."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from monitor.interpret.air import count
from monitor.interpret.air.count import AirCount, advance
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.tracker import Tracker
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningMode, CleaningSettings, CurveSettings

UTC = 1_772_352_000.0
ON_DEMAND = CurveSettings()
TIMED = replace(ON_DEMAND, cleaning=CleaningSettings(mode=CleaningMode.TIMED))
CALM = Tracker()


def digest(at_s, dp=4.5, fan=True, **more):
    return Digest(at_s - 4.0, at_s, UTC + at_s, good=5, mean_inh2o=dp, fan=fan, **more)


def cycle(begin_s, end_s, pulses, **more):
    return Cycle(begin_s, UTC + begin_s, end_s, UTC + end_s, 5.0, 4.0, pulses=pulses, **more)


def follow(settings, moments, trackers=None, cycles=None, **more):
    state = count.BEGIN
    for at_s in moments:
        tracker = (trackers or {}).get(at_s, CALM)
        state = advance(settings, state, digest(at_s, **more), tracker, (cycles or {}).get(at_s))
    return state


def test_the_pulses_of_whole_cycles_add_up():
    cycles = {100.0: cycle(50, 100, 6, counted=True), 300.0: cycle(250, 298, 5)}

    state = follow(ON_DEMAND, [float(at) for at in range(5, 400, 5)], cycles=cycles)

    assert (state.pulses, state.counted, state.cleanings) == (11, 6, 2)
    assert state.all_pulses == 11


def test_a_cleaning_that_never_ends_counts_while_it_goes_on():
    moments = [float(at) for at in range(5, 1005, 5)]
    since = {at: Tracker(cleaning_since_s=100.0) for at in moments if at >= 105}

    state = follow(ON_DEMAND, moments, trackers=since)

    # 900 s of one row each 10 s, the first one at once.
    assert (state.pulses, state.open_pulses) == (0, 91)
    assert state.cleaning_s == pytest.approx(900)


def test_what_was_estimated_gives_way_to_what_the_cycle_says():
    since = {at: Tracker(cleaning_since_s=100.0) for at in (105.0, 110.0, 145.0)}

    state = follow(ON_DEMAND, [100.0, 105.0, 110.0, 145.0, 150.0], since, {150.0: cycle(100, 148, 4)})

    assert (state.pulses, state.open_pulses) == (4, 0)


def test_a_cleaning_of_which_the_end_was_not_seen_keeps_its_pulses():
    since = {at: Tracker(cleaning_since_s=100.0) for at in (105.0, 125.0)}

    state = follow(ON_DEMAND, [100.0, 105.0, 125.0, 600.0, 605.0], since)
    later = follow(ON_DEMAND, [100.0, 105.0, 125.0, 600.0, 605.0, 725.0, 730.0], since)

    # Its cycle may still come to light; after ten minutes it will not.
    assert (state.all_pulses, later.pulses, later.open_pulses) == (3, 3, 0)


def test_timed_cleaning_pulses_by_the_running_time():
    moments = [float(at) for at in range(0, 3605, 5)]

    running, standing = follow(TIMED, moments), follow(TIMED, moments, fan=False)

    assert running.pulses == pytest.approx((3600 + 4) / 10)
    assert (standing.pulses, standing.running_s) == (0, 0)
    assert standing.watched_s == pytest.approx(3604)


def test_time_in_which_nothing_was_read_counts_for_nothing():
    state = follow(TIMED, [5.0, 10.0, 5000.0, 5005.0])

    assert state.watched_s == pytest.approx(4 + 5 + 4 + 5)


@pytest.mark.parametrize(("fan", "dp", "runs"), [(True, 0.0, 1), (False, 4.0, 0), (None, 4.0, 1), (None, 0.1, 0)])
def test_the_fan_is_believed_before_the_dp(fan, dp, runs):
    state = follow(ON_DEMAND, [5.0, 10.0], fan=fan, dp=dp)

    assert (state.running_s > 0) == runs


def test_the_usual_dip_is_the_mean_of_the_newest():
    cycles = {float(at): cycle(at - 4, at, 1, dip_psi=20.0) for at in range(5, 105, 5)}
    cycles |= {float(at): cycle(at - 4, at, 1, dip_psi=10.0) for at in range(105, 2105, 5)}

    state = follow(ON_DEMAND, [float(at) for at in range(5, 2105, 5)], cycles=cycles)

    assert state.dip_psi == pytest.approx(10.0, abs=0.1)
    assert state.dips == 50


def test_timed_cleaning_takes_the_dip_from_the_header_itself():
    state = follow(TIMED, [5.0, 10.0], header_low_psi=66.0, header_high_psi=90.0)
    still = follow(TIMED, [5.0, 10.0], header_low_psi=88.0, header_high_psi=90.0)

    assert state.dip_psi == pytest.approx(24.0)
    assert still.dip_psi is None


@given(st.lists(st.tuples(st.floats(0.1, 400), st.booleans(), st.integers(0, 9)), max_size=40))
def test_nothing_ever_counts_backwards(steps):
    state, at_s = count.BEGIN, 0.0
    for step_s, cleans, pulses in steps:
        at_s += step_s
        seen = digest(at_s) if step_s > 4 else Digest(at_s, at_s, UTC + at_s, good=1, mean_inh2o=4.0)
        tracker = Tracker(cleaning_since_s=at_s - 1.0) if cleans else CALM
        after = advance(ON_DEMAND, state, seen, tracker, cycle(at_s - 1, at_s, pulses) if pulses else None)
        assert after.pulses >= state.pulses
        assert after.watched_s >= state.watched_s
        assert after.cleaning_s <= after.running_s <= after.watched_s
        state = after


def test_the_count_is_taken_up_again_as_it_was():
    state = follow(ON_DEMAND, [5.0, 10.0], cycles={10.0: cycle(6, 10, 3, dip_psi=20.0, counted=True)})
    whole = TypeAdapter(AirCount)

    assert whole.validate_json(whole.dump_json(state)) == state
