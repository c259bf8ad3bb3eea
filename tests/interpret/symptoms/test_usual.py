"""What is usual is learnt slowly, says nothing too early, and stays small."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.interpret.symptoms import usual
from monitor.interpret.symptoms.usual import EMPTY, MOST_SEEN, STRETCHES, Usual


def stretch(state: Usual, value: float, count: int = 20) -> Usual:
    for _ in range(count):
        state = usual.add(state, value)
    return usual.close(state)


def test_nothing_is_usual_before_it_was_seen_six_times():
    state = EMPTY
    for _ in range(5):
        state = usual.add(state, 4.0)
        assert state.value is None
    assert usual.add(state, 4.0).value == 4.0


def test_none_is_passed_over():
    assert usual.add(EMPTY, None) is EMPTY


def test_a_fault_of_three_days_has_not_become_usual_and_one_of_five_has():
    state = EMPTY
    for _ in range(STRETCHES):
        state = stretch(state, 4.0)
    for _ in range(6):  # three days of running
        state = stretch(state, 6.0)
    assert state.value == 4.0
    for _ in range(4):
        state = stretch(state, 6.0)
    assert state.value == 6.0


def test_a_fault_on_the_second_day_is_not_believed_before_the_third_stretch():
    state = stretch(stretch(EMPTY, 4.0), 6.0)
    assert state.value == 4.0


def test_one_wild_value_moves_nothing():
    state = EMPTY
    for value in (4.0, 4.1, 3.9, 4.0, 40.0, 4.0, 4.1):
        state = usual.add(state, value)
    assert state.value is not None
    assert 3.9 <= state.value <= 4.1


def test_a_stretch_with_too_few_values_says_nothing():
    state = usual.close(usual.add(usual.add(EMPTY, 9.0), 9.0))
    assert state.past == ()


@given(st.lists(st.one_of(st.none(), st.floats(-1e6, 1e6)), max_size=400), st.integers(1, 60))
def test_it_stays_small_and_within_what_was_seen(values, every):
    state = EMPTY
    for number, value in enumerate(values):
        state = usual.add(state, value)
        if number % every == 0:
            state = usual.close(state)
        assert len(state.seen) <= MOST_SEEN + 1
        assert len(state.past) <= STRETCHES
    there = [value for value in values if value is not None]
    if state.value is not None:
        assert min(there) - 1e-3 <= state.value <= max(there) + 1e-3
