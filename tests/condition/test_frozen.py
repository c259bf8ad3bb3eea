"""Frozen: the count of how long a raw number has stood still, and what stops or restarts it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.condition import frozen
from monitor.condition.frozen import StillState


def stood_s(state: StillState | None, at_s: float) -> float:
    assert state is not None
    return at_s - state.since_s


def test_an_equal_number_keeps_its_count_and_costs_no_new_state() -> None:
    first = frozen.advance(None, 2048, 10.0, may_stand=False)

    assert frozen.advance(first, 2048, 70.0, may_stand=False) is first
    assert stood_s(first, 70.0) == 60.0


def test_a_number_that_moves_starts_anew() -> None:
    first = frozen.advance(None, 2048, 10.0, may_stand=False)

    assert stood_s(frozen.advance(first, 2049, 70.0, may_stand=False), 70.0) == 0.0


def test_time_in_which_it_may_stand_does_not_count() -> None:
    state = frozen.advance(None, 0, 0.0, may_stand=False)
    state = frozen.advance(state, 0, 50.0, may_stand=True)

    assert stood_s(frozen.advance(state, 0, 60.0, may_stand=False), 60.0) == 10.0


def test_time_without_an_answer_does_not_count_and_what_came_before_is_kept() -> None:
    state = frozen.advance(None, 7, 0.0, may_stand=False)
    state = frozen.lose_sight(frozen.lose_sight(state, 30.0), 60.0)

    state = frozen.advance(state, 7, 90.0, may_stand=False)

    assert stood_s(state, 90.0) == 30.0
    assert frozen.advance(state, 7, 100.0, may_stand=False) is state


def test_nothing_is_lost_where_nothing_was_seen() -> None:
    assert frozen.lose_sight(None, 5.0) is None


@pytest.mark.parametrize(
    ("value", "fan_running", "span", "may_stand"),
    [
        (5.0, True, 10.0, False),
        (0.0, True, 10.0, False),
        (5.0, False, 10.0, True),
        (0.2, None, 10.0, True),
        (0.21, None, 10.0, False),
        (-0.2, None, 10.0, True),
        (-0.21, None, 10.0, False),
        (0.1, None, None, True),
        (0.11, None, None, False),
        (5.0, None, 10.0, False),
    ],
)
def test_standing_still_means_nothing_with_the_fan_stopped_or_perhaps_stopped(
    value: float, fan_running: bool | None, span: float | None, may_stand: bool
) -> None:
    """Unknown: within 2 % of span of zero, or within 0.1 where the span is unknown."""
    assert frozen.may_stand_still(value, fan_running, span) is may_stand


@given(st.lists(st.tuples(st.floats(0.1, 50.0), st.booleans()), min_size=1, max_size=40))
def test_only_time_between_two_answers_counts(turns: list[tuple[float, bool]]) -> None:
    """Over any mix of answers and failures of a number that never moves."""
    at_s, counted_s, before_ok = 0.0, 0.0, True
    state: StillState | None = frozen.advance(None, 1, 0.0, may_stand=False)
    for step_s, ok in turns:
        at_s += step_s
        # From the last answer to the first failure nobody knows; it counts, and is one scan at most.
        counted_s += step_s if before_ok else 0.0
        state = frozen.advance(state, 1, at_s, may_stand=False) if ok else frozen.lose_sight(state, at_s)
        before_ok = ok
    at_s += 1.0
    state = frozen.advance(state, 1, at_s, may_stand=False)

    assert stood_s(state, at_s) == pytest.approx(counted_s + (1.0 if before_ok else 0.0), abs=1e-6)
