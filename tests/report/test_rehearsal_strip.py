"""Rehearsal strip: what is drawn of an alarm's life is bounded, and hides no moment of alarm."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.report.rehearsal import Change
from monitor.report.rehearsal_strip import for_drawing, spans
from monitor.words import AlarmState

T0, T1 = 1_772_352_000.0, 1_772_438_400.0


def life(moments):
    """An alarm that is raised, latched and cleared in turn at these moments."""
    states = (AlarmState.UNACKNOWLEDGED, AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.NORMAL)
    return [Change(T0 + at, states[number % 3]) for number, at in enumerate(sorted(moments))]


moments = st.lists(st.floats(0.0, T1 - T0), max_size=300)


@given(moments, st.integers(10, 200))
def test_few_stretches_are_drawn_as_they_are_and_many_are_bounded(at_s, columns):
    changes = life(at_s)
    exact, found = spans(changes, T0, T1), for_drawing(changes, T0, T1, columns)

    assert found == exact if len(exact) <= columns / 2 else len(found) <= columns
    assert [one[1] for one in found] == sorted(one[1] for one in found)


@given(moments, st.integers(10, 200))
def test_every_moment_of_alarm_lies_within_a_drawn_one(at_s, columns):
    changes = life(at_s)
    active = [one for one in for_drawing(changes, T0, T1, columns) if one[0] is AlarmState.UNACKNOWLEDGED]

    for state, from_s, until_s in spans(changes, T0, T1):
        if state is AlarmState.UNACKNOWLEDGED:
            middle_s = (from_s + until_s) / 2
            assert any(one[1] - 1e-3 <= middle_s <= one[2] + 1e-3 for one in active)
