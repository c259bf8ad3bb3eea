"""Cleaning cycles are found, once each, and nothing else is taken for one."""

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from monitor.interpret.cycles.tracker import BEGIN, Tracker, advance
from monitor.interpret.digest import Digest, Sample
from monitor.interpret.settings import CleaningMode, CleaningSettings
from tests.interpret.cycles.sawtooth import Kind, draw
from tests.interpret.cycles.scoring import digests_of, score, track

ON_DEMAND = CleaningSettings()
DEMANDS = [ON_DEMAND, CleaningSettings(start_inh2o=5.0, stop_inh2o=4.0), CleaningSettings(mode=CleaningMode.TIMED)]

figures = st.floats(-20, 40) | st.sampled_from([0.0, 3.0, 4.0, 5.0])
maybe = st.none() | st.floats(-10, 150)
flags = st.sampled_from([None, True, False])


@st.composite
def any_digests(draw):
    now, found = draw(st.floats(-1e5, 1e7)), []
    for _ in range(draw(st.integers(0, 25))):
        begin = now + draw(st.sampled_from([-50.0, 0.0, 0.5, 1.0, 10.0, 60.0, 900.0]))
        now = begin + draw(st.sampled_from([0.0, 1.0, 4.0, 30.0]))
        good = draw(st.integers(0, 6))
        low, mid, high = sorted(draw(st.tuples(figures, figures, figures)))
        psi = draw(st.none() | st.tuples(figures, figures))
        header = (min(psi), max(psi), psi[0]) if psi else (None, None, None)
        dp = (mid, low, high, mid, 0.01, 0) if good else ()
        found.append(
            Digest(begin, now, now, good, draw(st.integers(0 if good else 1, 5)), *dp)._replace(
                header_low_psi=header[0],
                header_high_psi=header[1],
                header_psi=header[2],
                flow_cfm=draw(maybe),
                fan=draw(flags),
                cleaning=draw(flags),
            )
        )
    return found


def teeth(hours=3.0, *, low=4.0, high=5.0, rise_s=1200, pulses=8, fan=None, cleaning=False, until=None):
    """A plain sawtooth without noise, every second; pulses 10 s apart, each taking the same."""
    samples, dp, left, due = [], low, 0, 0
    for second in range(int(hours * 3600)):
        dp += (high - low) / rise_s
        if dp >= high and not left:
            left, due = pulses, second
        if left and second >= due:
            dp, left, due = dp - (high - low) / pulses - 0.01, left - 1, second + 10
        shown = dp + 0.004 * ((second * 7919) % 11 - 5)
        samples.append(
            Sample(float(second), 1e9 + second, shown, fan=fan, cleaning=left > 0 if cleaning else None)
        )
    return samples


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(any_digests(), st.sampled_from(DEMANDS))
def test_whatever_comes_it_goes_on(digests, demands):
    state = BEGIN
    for digest in digests:
        state, cycle = advance(demands, state, digest)
        assert cycle is None or cycle.begin_s <= cycle.end_s
        assert cycle is None or (cycle is state.last and cycle.pulses >= 1)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(any_digests(), st.sampled_from(list(Kind)), st.integers(1, 900), st.integers(20, 700))
def test_the_state_goes_through_json_and_back(digests, kind, seed, cut):
    adapter = TypeAdapter(Tracker)
    usual = digests_of(draw(kind, seed, 1.0).samples(1, header=True, signal=seed % 2 == 0))
    for stretch in (digests, usual[:cut]):
        state = BEGIN
        for digest in stretch:
            state, _ = advance(ON_DEMAND, state, digest)
        again = adapter.validate_json(adapter.dump_json(state))

        assert again == state
        assert len(adapter.dump_json(state)) < 4000


@settings(max_examples=8, deadline=None, derandomize=True, phases=[Phase.generate])
@given(st.sampled_from(list(Kind)), st.integers(1, 900), st.integers(0, 10**6), st.sampled_from([0.25, 0.5, 1.0]))
def test_another_time_or_zero_shifts_the_cycles_and_nothing_else(kind, seed, later, higher):
    # Above another zero a sum is rounded otherwise, so a figure may differ by a hair's breadth of the noise.
    day = draw(kind, seed, 3.0)
    plain = day.samples(10)
    moved = [Sample(one.at_s + later * 10, one.utc_s + later * 10, one.dp_inh2o) for one in plain]
    raised = [one._replace(dp_inh2o=None if one.dp_inh2o is None else one.dp_inh2o + higher) for one in plain]

    here, then, above = [track(ON_DEMAND, digests_of(samples)) for samples in (plain, moved, raised)]

    assert [one.begin_s - later * 10 for one in then] == pytest.approx([one.begin_s for one in here])
    assert [one.peak_inh2o for one in then] == pytest.approx([one.peak_inh2o for one in here], abs=1e-6)
    assert [one.begin_s for one in above] == pytest.approx([one.begin_s for one in here], abs=20.0)
    assert [one.residual_inh2o - higher for one in above] == pytest.approx(
        [one.residual_inh2o for one in here], abs=0.01
    )


@pytest.mark.parametrize("signal", [True, False])
def test_a_plain_sawtooth_is_read_as_it_is(signal):
    cycles = track(ON_DEMAND, digests_of(teeth(cleaning=signal)))

    assert len(cycles) == 8
    for cycle in cycles[1:]:
        assert cycle.peak_inh2o == pytest.approx(5.0, abs=0.03)
        assert cycle.residual_inh2o == pytest.approx(3.98, abs=0.03)
        assert cycle.cleaning_s == pytest.approx(75.0, abs=10.0)
        assert cycle.cycle_s == pytest.approx(1289.0, abs=15.0)
        assert cycle.rise_inh2o_min == pytest.approx(0.05, rel=0.1)
        assert (cycle.signalled, cycle.whole, cycle.counted) == (signal, True, False)
        assert cycle.pulses in (7, 8, 9)


def test_a_fan_that_stops_is_no_cycle():
    samples = teeth(2.0, high=9.0, rise_s=9000)
    stopped = [one._replace(dp_inh2o=one.dp_inh2o * 0.9 ** max(0, n - 4000)) for n, one in enumerate(samples)]

    assert track(ON_DEMAND, digests_of(stopped)) == []
    assert track(ON_DEMAND, digests_of([one._replace(fan=n < 4000) for n, one in enumerate(stopped)])) == []


def test_a_damper_that_closes_is_no_cycle_once_the_usual_is_known():
    stepped = [
        one._replace(dp_inh2o=one.dp_inh2o * (0.85 if n > 9600 else 1.0)) for n, one in enumerate(teeth(2.9))
    ]

    cycles = track(ON_DEMAND, digests_of(stepped))

    assert not [one for one in cycles if one.begin_s < 9620 and one.end_s > 9590]


def test_a_slow_decline_is_no_cycle():
    samples = [Sample(float(n), 1e9 + n, 5.0 - 1.5 * n / 14400 + 0.01 * (n % 3)) for n in range(14400)]

    assert track(ON_DEMAND, digests_of(samples)) == []


def test_cleaning_that_never_ends_is_no_cycle_and_stays_known():
    samples = [Sample(float(n), 1e9 + n, 5.0 + 0.01 * (n % 3), cleaning=n >= 600) for n in range(7200)]
    state = BEGIN
    for digest in digests_of(samples):
        state, cycle = advance(ON_DEMAND, state, digest)
        assert cycle is None

    assert state.cleaning_since_s == pytest.approx(600.0, abs=5.0)


def test_a_hole_with_a_lower_dp_after_it_is_no_cycle():
    samples = [one for one in teeth(2.0) if not 1100 <= one.at_s < 1500]

    cycles = track(ON_DEMAND, digests_of(samples))

    assert not [one for one in cycles if one.begin_s < 1500]
    assert cycles[0].cycle_s is None


def test_pulses_are_counted_in_the_header_once_it_is_believed():
    day = draw(Kind.PLAIN, 1)
    cycles = track(day.settings, digests_of(day.samples(1, header=True)))

    for cycle in cycles[3:]:
        true = next(one for one in day.cycles if abs(one.begin_s - cycle.begin_s) < 30)
        assert (cycle.counted, cycle.pulses) == (True, true.pulses)
        assert cycle.dip_psi is not None


def test_a_cycle_is_told_within_the_promised_time():
    state = BEGIN
    for digest in digests_of(teeth()):
        state, cycle = advance(ON_DEMAND, state, digest)
        assert cycle is None or digest.end_s - cycle.end_s <= 60.0


@pytest.mark.parametrize("kind", [Kind.PLAIN, Kind.FLOW_WANDERS, Kind.DEAD_VALVE, Kind.TORN, Kind.MISSING])
def test_another_plant_is_read_too(kind):
    day = draw(kind, 2001, 3.0)
    digests = digests_of(day.samples(1))

    result = score(track(day.settings, digests), day.cycles, digests, 1.0)

    assert result.true
    assert (result.found, result.false) == (result.true, 0)
