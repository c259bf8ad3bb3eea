"""Whatever comes: it does not raise, stays small, and is the same after a night on disk."""

import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.tracker import Tracker
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningMode, CleaningSettings
from monitor.interpret.symptoms import looking
from monitor.interpret.symptoms.looking import Looking, symptoms
from tests.interpret.symptoms.days import Day

ADAPTER = TypeAdapter(Looking)
MOST_BYTES = 16_000

maybe = st.none() | st.booleans()
dp = st.floats(-3.0, 20.0, allow_nan=False)
psi = st.none() | st.floats(-5.0, 120.0)


@st.composite
def digests(draw, now_s):
    good = draw(st.sampled_from([0, 1, 1, 5, 5, 5, 50]))
    gap_s = draw(st.sampled_from([5.0, 5.0, 5.0, 5.0, 30.0, 300.0, 90_000.0, -1000.0, 0.0]))
    begin_s = now_s + gap_s - 4.0
    mean, spread = draw(dp), draw(st.sampled_from([0.0, 0.01, 1.0]))
    header = draw(psi)
    figures = (mean, mean - spread, mean + spread, mean, spread * spread, 0) if good else ()
    return Digest(begin_s, begin_s + 4.0, 1.7e9 + begin_s, good, 5 - min(good, 5), *figures)._replace(
        header_low_psi=header,
        header_high_psi=header,
        header_psi=header,
        flow_cfm=draw(st.none() | st.floats(0.0, 1e5)),
        fan=draw(maybe),
        cleaning=draw(maybe),
    )


@st.composite
def stories(draw):
    settings_ = CleaningSettings(
        mode=draw(st.sampled_from(CleaningMode)),
        start_inh2o=draw(st.none() | dp),
        stop_inh2o=draw(st.none() | dp),
        pulse_every_s=draw(st.sampled_from([0.1, 10.0, 60.0])),
    )
    now_s, story = 0.0, []
    for _ in range(draw(st.integers(1, 30))):
        digest = draw(digests(now_s))
        now_s = digest.end_s
        cycle = Cycle(now_s - 60, now_s - 60, now_s, now_s, draw(dp), draw(dp)) if draw(st.booleans()) else None
        story.append((digest, Tracker(cleaning_since_s=draw(st.none() | st.just(now_s))), cycle))
    return settings_, story


@given(stories(), st.integers(1, 30))
@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
def test_it_never_raises_and_survives_the_disk(told, repeats):
    cleaning, story = told
    state = looking.BEGIN
    for _ in range(repeats):
        for digest, tracker, cycle in story:
            state = looking.advance(cleaning, state, digest, tracker, cycle)
        symptoms(state)
    stored = ADAPTER.dump_json(state)

    assert ADAPTER.validate_json(stored) == state
    assert len(stored) <= MOST_BYTES


def test_a_month_is_no_larger_than_a_day():
    day = Day().played(30.0)
    week = len(ADAPTER.dump_json(day.looking))

    assert week <= MOST_BYTES
    assert all(math.isfinite(value) for value in day.looking.usual if isinstance(value, float))


def test_a_restart_in_the_middle_changes_nothing():
    day = Day().played(7.0)
    stored = day.but(looking=ADAPTER.validate_json(ADAPTER.dump_json(day.looking)))

    assert stored.played(2.0).looking == day.played(2.0).looking
