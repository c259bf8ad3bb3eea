"""Start and stop move only where a rule asks for it, by as little as the rules allow."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.interpret.advice.learning import Habits, learn
from monitor.interpret.advice.setpoints import (
    MOST_SHARE,
    WANTED_SHARE,
    Limits,
    Why,
    dusty_share,
    limits,
    place,
    reachable_inh2o,
)
from monitor.interpret.settings import CleaningSettings
from tests.interpret.advice.days import even_cycles, even_seen

USUAL = Limits(6.0, by_change_out=False)


def habits(start=5.0, stop=4.0, **more):
    told = learn(
        CleaningSettings(start_inh2o=start, stop_inh2o=stop),
        even_seen(even_cycles(start=start, stop=stop, **more)),
    )
    assert isinstance(told, Habits)
    return told


def test_what_keeps_the_rules_stays():
    assert place(habits(), USUAL) == (5.0, 4.0, (Why.KEPT,))


def test_a_narrow_swing_becomes_an_inch():
    told = place(habits(5.0, 4.5, filtering_s=200.0, cleaning_s=10.0, pulses=2), USUAL)

    assert told.why == (Why.TOO_CLOSE,)
    assert told.start_inh2o - told.stop_inh2o == pytest.approx(1.0)
    # About the same mean DP, 4.75, and of two alike the lower.
    assert (told.start_inh2o, told.stop_inh2o) == (5.2, 4.2)


def test_a_wide_swing_becomes_an_inch():
    told = place(habits(6.0, 3.0, filtering_s=900.0, cleaning_s=60.0, pulses=7), USUAL)

    assert told.why == (Why.TOO_WIDE,)
    assert told.start_inh2o - told.stop_inh2o == pytest.approx(1.0)


def test_cleaning_that_hardly_rests_is_moved_up():
    told = place(habits(4.0, 3.0, filtering_s=150.0, cleaning_s=80.0, pulses=9), USUAL)

    assert told.why == (Why.CLEANS_TOO_MUCH,)
    assert told.start_inh2o > 4.0


def test_a_high_start_comes_down_to_six():
    told = place(habits(7.5, 6.5, filtering_s=900.0), USUAL)

    assert told == (6.0, 5.0, (Why.TOO_HIGH,))


def test_the_start_stays_under_the_change_out_limit():
    mine = habits()
    limit = limits(mine, 4.6, None)
    told = place(mine, limit)

    assert limit == (4.6, True)
    assert Why.OVER_CHANGE_OUT in told.why
    assert told.start_inh2o <= 4.6


def test_where_no_place_keeps_the_rules_nothing_is_moved():
    told = place(habits(5.0, 4.0, filtering_s=60.0, cleaning_s=100.0, pulses=11), Limits(5.0, by_change_out=False))

    assert Why.NO_ROOM in told.why
    assert told[:2] == (5.0, 4.0)


def test_what_helps_and_is_not_enough_is_advised_as_such():
    mine = habits(5.0, 4.0, filtering_s=60.0, cleaning_s=100.0, pulses=11)
    told = place(mine, USUAL)

    assert told == (6.0, 5.0, (Why.CLEANS_TOO_MUCH, Why.NOT_ENOUGH))
    assert WANTED_SHARE < dusty_share(mine, 6.0, 5.0) < dusty_share(mine, 5.0, 4.0)


def test_the_range_of_the_transmitter_bounds_the_start():
    assert limits(habits(), None, 7.0).highest_inh2o == pytest.approx(5.0)


def test_the_reachable_dp_is_where_a_pulse_takes_what_dust_brings():
    # Floor 2 (half of 4). A pulse takes 0.22667 at 4.5, 0.09067 of what is above 2; dust brings 10/300 in 10 s:
    # 2 + 0.03333 / 0.09067 = 2.3676.
    assert reachable_inh2o(habits()) == pytest.approx(2.3676, abs=1e-3)


@settings(deadline=None, max_examples=50)
@given(st.floats(60, 600), st.integers(1, 12), st.sampled_from([0.4, 0.6, 1.0, 1.6, 2.2]), st.floats(2.5, 5.5))
def test_whatever_is_advised_keeps_the_rules(filtering_s, pulses, gap, stop):
    cycles = even_cycles(
        start=stop + gap, stop=stop, filtering_s=filtering_s, pulses=pulses, cleaning_s=pulses * 10.0
    )
    mine = learn(CleaningSettings(start_inh2o=stop + gap, stop_inh2o=stop), even_seen(cycles))
    if not isinstance(mine, Habits):
        return
    told = place(mine, USUAL)
    if {Why.KEPT, Why.NO_ROOM, Why.NOT_ENOUGH} & set(told.why):
        return
    assert 0.8 - 1e-6 <= told.start_inh2o - told.stop_inh2o <= 1.5 + 1e-6
    assert told.start_inh2o <= 6.0 + 1e-6
    most = WANTED_SHARE if Why.CLEANS_TOO_MUCH in told.why else MOST_SHARE
    assert dusty_share(mine, told.start_inh2o, told.stop_inh2o) <= most
