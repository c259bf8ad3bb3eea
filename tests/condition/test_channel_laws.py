"""Analog channel laws: for any words, gaps and failures, what a reading of each quality may carry."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.condition import channel as channels
from monitor.condition.channel import AnalogChannel, AnalogState
from monitor.condition.registers import Encoding, RegisterFormat
from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.words import Failure, Instant, Quality, Reason

INT16 = RegisterFormat(Encoding.INT16)
UINT16 = RegisterFormat(Encoding.UINT16)


def at(mono_s: float) -> Instant:
    return Instant(mono_s, 1_700_000_000.0 + mono_s)


words16 = st.integers(0, 65535)
turns = st.lists(
    st.tuples(st.floats(0.01, 30.0), st.one_of(st.none(), words16, st.sampled_from([3600, 3800, 12000, 20500]))),
    min_size=1,
    max_size=50,
)
many_channels = st.builds(
    AnalogChannel,
    format=st.sampled_from([UINT16, INT16]),
    scaling=st.sampled_from(
        [
            LoopScaling(4000, 20000, 0.0, 10.0),
            LoopScaling(819, 4095, -1.0, 9.0, 4095),
            LoopScaling(20000, 4000, 10.0, 0.0, 3000),
            LinearScaling(0.001, -1.0, 4.0),
        ]
    ),
    valid_low=st.sampled_from([None, -1.0]),
    valid_high=st.sampled_from([None, 9.5]),
    median_samples=st.sampled_from([None, 3, 5]),
    lag_s=st.sampled_from([None, 5.0]),
    frozen_after_s=st.sampled_from([None, 20.0]),
    span=st.sampled_from([None, 10.0]),
)


@given(many_channels, turns, st.sampled_from([True, False, None]))
def test_what_a_reading_of_each_quality_carries(
    channel: AnalogChannel, sequence: list[tuple[float, int | None]], fan_running: bool | None
) -> None:
    """Good has a value, damped and no reason; uncertain a value alone; bad none. All but good say why."""
    state, mono_s = channels.start(channel), 0.0
    fed: list[float] = []
    for step_s, word in sequence:
        mono_s += step_s
        if word is None:
            state, reading = channels.fail(channel, state, Failure(Reason.NO_ANSWER, "silent"), at(mono_s))
        else:
            state, reading = channels.advance(channel, state, (word,), at(mono_s), fan_running)
        assert isinstance(state, AnalogState)
        assert reading.at == at(mono_s)
        assert (reading.quality is Quality.GOOD) == (reading.reason is Reason.NONE) == (reading.detail == "")
        assert (reading.value is None) == (reading.quality is Quality.BAD)
        assert (reading.damped is None) == (reading.quality is not Quality.GOOD)
        assert (reading.raw is None) == (word is None)
        if reading.quality is Quality.GOOD:
            assert reading.value is not None
            assert reading.damped is not None
            fed.append(reading.value)
            assert min(fed) - 1e-9 <= reading.damped <= max(fed) + 1e-9


@given(many_channels, turns)
def test_a_good_reading_lies_inside_every_limit(
    channel: AnalogChannel, sequence: list[tuple[float, int | None]]
) -> None:
    state, mono_s = channels.start(channel), 0.0
    for step_s, word in sequence:
        mono_s += step_s
        state, reading = channels.advance(channel, state, (word or 0,), at(mono_s), fan_running=False)
        if reading.quality is Quality.GOOD and reading.current_ma is not None:
            assert 3.8 <= reading.current_ma <= 20.5
            assert isinstance(channel.scaling, LoopScaling)
            if channel.scaling.full_scale_counts == 4095:
                assert reading.raw is not None
                assert reading.raw < 4095
