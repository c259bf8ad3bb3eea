"""Taking in a stretch of samples at once leads exactly where taking them in one by one leads."""

import os

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.rehearse import follower
from monitor.rehearse.door import for_recorded
from monitor.rehearse.follower import Follower
from tests.rehearse import plants

LONG = bool(os.environ.get("CAKEWATCH_LONG"))


@pytest.fixture(autouse=True)
def _short_stretches(monkeypatch):
    """Stretches begin as soon as they may, so that every end of one is met."""
    monkeypatch.setattr(follower, "FEWEST", 2)
    monkeypatch.setattr(follower, "LONGEST_WAIT", 1)


class Listening(Follower):
    """Keeps every event, and counts the rows that were taken in at once."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.events = []
        self.at_once = 0

    def _take(self, events):
        self.events += events
        super()._take(events)

    def _stretch(self, *args):
        taken = super()._stretch(*args)
        self.at_once += taken
        return taken


def walk(plan, rows, size, *, exact):
    one = Listening(plan, rows[0][0], exact=exact)
    for chunk in plants.chunks(rows, size):
        one.follow(chunk)
    state = one._door.state
    return one, state, one.story(rows[-1][0] + 100.0)


@pytest.mark.timeout(3600 if LONG else 120)
@settings(
    max_examples=400 if LONG else 40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(plan=plants.plans(), seed=st.integers(0, 10**6), size=st.sampled_from([64, 700, 4096]))
def test_stretches_bring_the_same_events_and_leave_the_same_state(plan, seed, size):
    plan = for_recorded(plan, {})
    rows = plants.day(seed, 1000, plan.points)

    slow, slow_state, slow_story = walk(plan, rows, size, exact=True)
    fast, fast_state, fast_story = walk(plan, rows, size, exact=False)

    assert slow.at_once == 0
    assert fast.events == slow.events
    assert fast_state == slow_state
    assert fast_story.raisings == slow_story.raisings
    assert fast_story.alarms == slow_story.alarms
    assert fast_story.sight == slow_story.sight
    assert fast_story.curve.lowest == slow_story.curve.lowest
    assert fast_story.curve.highest == slow_story.curve.highest
