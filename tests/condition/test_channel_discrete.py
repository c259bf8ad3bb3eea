"""Discrete channel: yes or no from a coil, a bit, or a number at a threshold."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.condition import channel as channels
from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.condition.registers import Encoding, RegisterFormat, encode
from monitor.condition.scaling import LinearScaling
from monitor.words import Failure, Instant, Quality, Reason

NOW = Instant(5.0, 1e9)
UINT16 = RegisterFormat(Encoding.UINT16)
FLOAT32 = RegisterFormat(Encoding.FLOAT32)
AMPS = DiscreteChannel(at_least=12.0, deadband=2.0, format=UINT16, scaling=LinearScaling(scale=0.1))


def answer(channel: DiscreteChannel, *samples: tuple[int, ...]) -> list[float | None]:
    state, values = channels.start(channel), []
    for words in samples:
        state, reading = channels.advance(channel, state, words, NOW, None)
        values.append(reading.value)
    return values


@pytest.mark.parametrize(("inverted", "values"), [(False, [0.0, 1.0]), (True, [1.0, 0.0])])
def test_a_coil_answers_and_a_normally_closed_contact_answers_the_other_way(
    inverted: bool, values: list[float]
) -> None:
    assert answer(DiscreteChannel(inverted=inverted), (0,), (1,)) == values


def test_the_bits_of_the_specification_example() -> None:
    """Application Protocol V1.1b3 §6.1: the byte CD is coils 27 to 20, 1100 1101, the least one first."""
    bits = [answer(DiscreteChannel(bit=bit), (0x00CD,))[0] for bit in range(16)]

    assert bits == [1, 0, 1, 1, 0, 0, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0]


@given(st.integers(0, 65535), st.integers(0, 15), st.booleans())
def test_each_bit_is_read_by_itself(word: int, bit: int, inverted: bool) -> None:
    expected = (f"{word:016b}"[15 - bit] == "1") is not inverted

    assert answer(DiscreteChannel(bit=bit, inverted=inverted), (word,)) == [float(expected)]


def test_a_reading_carries_the_raw_word_and_is_good() -> None:
    _, reading = channels.advance(DiscreteChannel(bit=3), channels.start(DiscreteChannel()), (0x0018,), NOW, None)

    assert (reading.quality, reading.value, reading.damped, reading.raw) == (Quality.GOOD, 1.0, 1.0, 0x18)


def test_a_threshold_is_reached_at_and_left_below_its_deadband() -> None:
    values = answer(AMPS, (110,), (119,), (120,), (119,), (100,), (99,), (110,), (119,), (125,))

    assert values == [0, 0, 1, 1, 1, 0, 0, 0, 1]


def test_an_inverted_threshold() -> None:
    it = DiscreteChannel(at_least=12.0, format=UINT16, inverted=True)

    assert answer(it, (11,), (12,), (11,)) == [1, 0, 1]


def test_a_threshold_on_no_number_is_bad_and_keeps_the_answer_for_later() -> None:
    it = DiscreteChannel(at_least=12.0, deadband=2.0, format=FLOAT32)
    state, _ = channels.advance(it, channels.start(it), encode(13.0, FLOAT32), NOW, None)

    state, reading = channels.advance(it, state, encode(math.nan, FLOAT32), NOW, None)

    assert (reading.quality, reading.reason, reading.value) == (Quality.BAD, Reason.NOT_A_NUMBER, None)
    assert channels.advance(it, state, encode(11.0, FLOAT32), NOW, None)[1].value == 1.0


@given(st.lists(st.integers(0, 300), min_size=1, max_size=40), st.booleans())
def test_an_answer_changes_only_beyond_the_limits(raws: list[int], inverted: bool) -> None:
    it = DiscreteChannel(at_least=12.0, deadband=2.0, format=UINT16, scaling=AMPS.scaling, inverted=inverted)
    for raw, value in zip(raws, answer(it, *((raw,) for raw in raws)), strict=True):
        if raw >= 120:
            assert value == float(not inverted)
        if raw < 100:
            assert value == float(inverted)


def test_a_failed_request_is_bad_and_the_answer_is_kept_for_later() -> None:
    state, _ = channels.advance(AMPS, channels.start(AMPS), (125,), NOW, None)

    state, reading = channels.fail(AMPS, state, Failure(Reason.EXCEPTION_CODE, "exception 2"), NOW)

    assert (reading.quality, reading.reason, reading.value) == (Quality.BAD, Reason.EXCEPTION_CODE, None)
    assert channels.advance(AMPS, state, (110,), NOW, None)[1].value == 1.0


@pytest.mark.parametrize("channel", [DiscreteChannel(), DiscreteChannel(bit=0), AMPS])
@pytest.mark.parametrize("words", [(), (1, 0)])
def test_a_wrong_number_of_entries_is_our_own_fault(channel: DiscreteChannel, words: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="takes 1"):
        channels.advance(channel, channels.start(channel), words, NOW, None)


def test_a_state_of_another_kind_is_our_own_fault() -> None:
    analog = AnalogChannel(format=UINT16, scaling=LinearScaling())
    with pytest.raises(TypeError, match="DiscreteChannel cannot go on from AnalogState"):
        channels.advance(DiscreteChannel(), channels.start(analog), (1,), NOW, None)
    with pytest.raises(TypeError, match="register format"):
        channels.advance(DiscreteChannel(at_least=1.0), channels.start(DiscreteChannel()), (1,), NOW, None)
