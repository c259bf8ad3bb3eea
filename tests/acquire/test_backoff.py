"""How long to wait before the next try."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.acquire.backoff import Backoff


@given(st.floats(0.1, 100), st.floats(0.1, 100), st.integers())
def test_waits_double_to_their_bound_and_jitter_only_shortens(first_s, most_s, seed):
    backoff = Backoff(first_s, most_s, random.Random(seed))
    bound = first_s
    for _ in range(12):
        wait_s = backoff.wait_s()
        assert 0.75 * bound <= wait_s <= bound
        bound = min(2 * bound, max(first_s, most_s))


def test_a_proof_of_life_starts_it_anew():
    backoff = Backoff(1.0, 60.0, random.Random(1))
    for _ in range(5):
        backoff.wait_s()
    backoff.reset()

    assert backoff.wait_s() <= 1.0


def test_two_links_that_fail_together_do_not_come_back_together():
    waits = {Backoff(1.0, 60.0, random.Random(seed)).wait_s() for seed in range(20)}

    assert len(waits) == 20
    assert max(waits) - min(waits) == pytest.approx(0.25, abs=0.1)
