"""Samples become digests on a fixed grid; one at a time and a whole recording at once come to the same."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from monitor.interpret.digest import Digest, Sample
from monitor.interpret.gathering import EMPTY, MOST, STEP_S, Gathering, gather, gather_many

maybe = st.none() | st.floats(-5, 30)
flags = st.sampled_from([None, True, False])
steps = st.sampled_from([0.0, 0.01, 0.7, 1.0, 1.3, 5.0, 10.0, 59.9, 600.0])


@st.composite
def recordings(draw):
    moments, at_s = [], draw(st.floats(0, 1e6))
    for step in draw(st.lists(steps, max_size=60) | st.just([0.01] * (2 * MOST + 7))):
        at_s += step
        moments.append(at_s)
    present = [draw(st.booleans()) for _ in range(4)]
    return [
        Sample(
            moment,
            1.7e9 + moment,
            draw(maybe),
            draw(maybe) if present[0] else None,
            draw(maybe) if present[1] else None,
            draw(flags) if present[2] else None,
            draw(flags) if present[3] else None,
        )
        for moment in moments
    ]


def one_by_one(digest_s, state, samples):
    digests = []
    for sample in samples:
        state, digest = gather(digest_s, state, sample)
        if digest is not None:
            digests.append(digest)
    return state, digests


def at_once(digest_s, state, samples):
    columns = [list(column) for column in zip(*samples, strict=True)] or [[] for _ in Sample._fields]
    return gather_many(digest_s, state, *columns)


@given(recordings(), st.sampled_from([0.5, 5.0, 60.0]), st.integers(0, 60))
def test_a_whole_recording_at_once_gives_the_same(samples, digest_s, cut):
    state, first = one_by_one(digest_s, EMPTY, samples[:cut])

    quick, rest = at_once(digest_s, state, samples[cut:])

    assert (quick, first + rest) == one_by_one(digest_s, EMPTY, samples)


@given(recordings())
def test_no_reading_is_lost_or_counted_twice(samples):
    state, digests = one_by_one(5.0, EMPTY, samples)

    held = len(state.samples)
    assert sum(digest.good + digest.bad for digest in digests) + held == len(samples)
    assert held <= MOST


@given(recordings())
def test_the_state_goes_through_json_and_back(samples):
    adapter = TypeAdapter(Gathering)
    state, _ = one_by_one(5.0, EMPTY, samples)

    assert adapter.validate_json(adapter.dump_json(state)) == state


def test_without_a_column_is_the_same_as_with_nothing_in_it():
    at_s = [float(second) for second in range(30)]
    dp = [3.0] * 30
    nothing = [None] * 30

    short = gather_many(5.0, EMPTY, at_s, at_s, dp)

    assert short == gather_many(5.0, EMPTY, at_s, at_s, dp, nothing, nothing, nothing, nothing)


def test_five_seconds_make_a_parcel():
    dp = [3.0, 3.2, None, 3.1, 3.1, 9.9]
    samples = [Sample(100.0 + n, 200.0 + n, value, 80.0 + n, 1000.0 * n) for n, value in enumerate(dp)]

    _, [digest] = one_by_one(5.0, EMPTY, samples)

    assert digest == Digest(
        begin_s=100.0,
        end_s=104.0,
        end_utc_s=204.0,
        good=4,
        bad=1,
        mean_inh2o=pytest.approx(3.1),
        lowest_inh2o=3.0,
        highest_inh2o=3.2,
        last_inh2o=3.1,
        unrest=pytest.approx((0.2**2 + 0.0**2) / 2),
        repeats=1,
        header_low_psi=80.0,
        header_high_psi=84.0,
        header_psi=84.0,
        flow_cfm=2000.0,
    )


def test_slow_samples_are_a_parcel_each_and_still_have_unrest():
    samples = [Sample(10.0 * n, 10.0 * n, value) for n, value in enumerate([3.0, 3.5, 3.5, 3.1])]

    _, digests = one_by_one(5.0, EMPTY, samples)

    assert [digest.good for digest in digests] == [1, 1, 1]
    assert [digest.unrest for digest in digests] == [0.0, 0.25, 0.0]
    assert [digest.repeats for digest in digests] == [0, 0, 1]


@pytest.mark.parametrize(("hole_s", "unrest"), [(STEP_S, 1.0), (STEP_S + 1, 0.0)])
def test_over_a_hole_no_unrest_is_told(hole_s, unrest):
    samples = [Sample(0.0, 0.0, 3.0), Sample(hole_s, hole_s, 4.0), Sample(2 * hole_s, 2 * hole_s, 4.0)]

    _, digests = one_by_one(5.0, EMPTY, samples)

    assert digests[1].unrest == unrest


def test_without_a_good_reading_nothing_is_said_of_the_dp():
    samples = [Sample(float(n), float(n), None) for n in range(6)]

    _, [digest] = one_by_one(5.0, EMPTY, samples)

    assert (digest.good, digest.bad, digest.lowest_inh2o, digest.highest_inh2o) == (0, 5, math.inf, -math.inf)


@pytest.mark.parametrize(
    ("flags", "fan", "cleaning"),
    [
        ([True, True], True, True),
        ([True, False], False, True),
        ([False, False], False, False),
        ([True, None], None, True),
        ([False, None], False, None),
        ([None, None], None, None),
    ],
)
def test_the_fan_ran_all_the_time_and_cleaning_was_called_for_at_any(flags, fan, cleaning):
    samples = [Sample(float(n), float(n), 3.0, fan=flag, cleaning=flag) for n, flag in enumerate(flags)]

    _, [digest] = one_by_one(5.0, EMPTY, [*samples, Sample(5.0, 5.0, 3.0)])

    assert (digest.fan, digest.cleaning) == (fan, cleaning)
