"""Analog channel: from words to a reading, and what each fault says."""

import math
import random
from collections.abc import Iterable
from itertools import pairwise

import pytest

from monitor.condition import channel as channels
from monitor.condition.channel import AnalogChannel
from monitor.condition.registers import Encoding, Order, RegisterFormat, encode
from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.words import Failure, Instant, Quality, Reading, Reason

INT16 = RegisterFormat(Encoding.INT16)
UINT16 = RegisterFormat(Encoding.UINT16)
FLOAT32 = RegisterFormat(Encoding.FLOAT32, Order.LOW_FIRST)

MICROAMPS = AnalogChannel(format=INT16, scaling=LoopScaling(4000, 20000, 0.0, 10.0), span=10.0, unit="inH2O")
TWELVE_BIT = AnalogChannel(format=UINT16, scaling=LoopScaling(819, 4095, 0.0, 10.0, 4095), span=10.0)
ENGINEERING = AnalogChannel(format=FLOAT32, scaling=LinearScaling(), valid_low=-5.0, valid_high=20.0, unit="inH2O")


def at(mono_s: float) -> Instant:
    return Instant(mono_s, 1_700_000_000.0 + mono_s)


def run(
    channel: AnalogChannel, samples: Iterable[tuple[float, float]], fan_running: bool | None = True
) -> list[Reading]:
    """The readings of (time, raw number) samples."""
    state, readings = channels.start(channel), []
    for mono_s, raw in samples:
        state, reading = channels.advance(channel, state, encode(raw, channel.format), at(mono_s), fan_running)
        readings.append(reading)
    return readings


def held(raw: float, seconds: int, start_s: int = 0) -> list[tuple[float, float]]:
    return [(float(n), raw) for n in range(start_s, start_s + seconds + 1)]


def test_a_good_sample_shows_everything() -> None:
    assert run(MICROAMPS, [(7.0, 13600)]) == [
        Reading(Quality.GOOD, Reason.NONE, at(7.0), 6.0, 6.0, 13600, 13.6, "")
    ]


def test_a_point_in_engineering_units_has_no_current() -> None:
    reading = run(ENGINEERING, [(0.0, 5.5)])[0]

    assert (reading.value, reading.damped, reading.raw, reading.current_ma) == (5.5, 5.5, 5.5, None)


@pytest.mark.parametrize(
    ("current_ma", "value", "quality", "reason"),
    [
        (3.61, -0.24375, Quality.UNCERTAIN, Reason.LOOP_BELOW_MEASURING),
        (3.79, -0.13125, Quality.UNCERTAIN, Reason.LOOP_BELOW_MEASURING),
        (3.80, -0.125, Quality.GOOD, Reason.NONE),
        (4.00, 0.0, Quality.GOOD, Reason.NONE),
        (12.0, 5.0, Quality.GOOD, Reason.NONE),
        (20.0, 10.0, Quality.GOOD, Reason.NONE),
        (20.5, 10.3125, Quality.GOOD, Reason.NONE),
        (20.75, 10.46875, Quality.UNCERTAIN, Reason.LOOP_ABOVE_MEASURING),
        (0.0, -2.5, Quality.UNCERTAIN, Reason.LOOP_BELOW_MEASURING),
        (3.6, -0.25, Quality.UNCERTAIN, Reason.LOOP_BELOW_MEASURING),
        (21.0, 10.625, Quality.UNCERTAIN, Reason.LOOP_ABOVE_MEASURING),
        (22.0, 11.25, Quality.UNCERTAIN, Reason.LOOP_ABOVE_MEASURING),
    ],
)
def test_the_first_sample_of_each_band(current_ma: float, value: float, quality: Quality, reason: Reason) -> None:
    """NE 43 on a range of 0 to 10 inH2O; a failure level is uncertain until it has lasted."""
    reading = run(MICROAMPS, [(0.0, round(current_ma * 1000))])[0]

    assert (reading.quality, reading.reason) == (quality, reason)
    assert reading.value == pytest.approx(value)
    assert reading.damped == (reading.value if quality is Quality.GOOD else None)


@pytest.mark.parametrize(
    ("raw", "failed", "before", "sentence"),
    [
        (
            3520,
            Reason.LOOP_FAILED_LOW,
            Reason.LOOP_BELOW_MEASURING,
            "3.52 mA: at or below 3.6 mA for 4 s (NE 43), wire broken or transmitter failed",
        ),
        (
            21500,
            Reason.LOOP_FAILED_HIGH,
            Reason.LOOP_ABOVE_MEASURING,
            "21.5 mA: at or above 21.0 mA for 4 s (NE 43), loop shorted or transmitter failed high",
        ),
    ],
)
def test_a_failure_level_is_uncertain_for_4_s_and_then_bad(
    raw: int, failed: Reason, before: Reason, sentence: str
) -> None:
    readings = run(MICROAMPS, [(0.0, 12000), *held(raw, 10, 1)])

    assert [r.reason for r in readings[1:5]] == [before] * 4
    assert all(r.quality is Quality.UNCERTAIN and "not yet for 4 s" in r.detail for r in readings[1:5])
    assert all(r.quality is Quality.BAD and r.reason is failed for r in readings[5:])
    assert (readings[5].value, readings[5].damped) == (None, None)
    assert (readings[5].raw, readings[5].current_ma) == (raw, raw / 1000)
    assert readings[5].detail == sentence


@pytest.mark.parametrize(
    ("raws", "sentence"),
    [
        ((3700,), "3.7 mA: below the measuring range of 3.8 to 20.5 mA (NE 43)"),
        ((20600,), "20.6 mA: above the measuring range of 3.8 to 20.5 mA (NE 43)"),
        ((3700, 3820), "3.82 mA: not yet back at 3.85 mA after leaving the measuring range (NE 43)"),
        ((20600, 20480), "20.48 mA: not yet back at 20.45 mA after leaving the measuring range (NE 43)"),
        ((3500, 3604), "3.604 mA: not above 3.65 mA, not yet for 4 s (NE 43)"),
        ((22000, 20960), "20.96 mA: not below 20.95 mA, not yet for 4 s (NE 43)"),
    ],
)
def test_the_detail_says_why_with_the_figures(raws: tuple[int, ...], sentence: str) -> None:
    assert run(MICROAMPS, enumerate(raws))[-1].detail == sentence


def test_a_clipped_converter_at_its_last_count_is_never_a_full_scale() -> None:
    readings = run(TWELVE_BIT, [(0.0, 4094), *held(4095, 10, 1)])

    assert readings[0].quality is Quality.GOOD
    assert [(r.quality, r.reason) for r in readings[1:5]] == [(Quality.UNCERTAIN, Reason.LOOP_SATURATED)] * 4
    assert {(r.quality, r.reason, r.value) for r in readings[5:]} == {(Quality.BAD, Reason.LOOP_SATURATED, None)}
    assert readings[1].detail == "20 mA: at the converter's end of 20 mA, not yet for 4 s (NE 43)"
    assert readings[-1].detail.endswith("loop beyond the converter or transmitter failed high")


def test_a_last_count_that_flickers_still_fails() -> None:
    noise = random.Random(3)
    readings = run(TWELVE_BIT, [(n / 10, noise.choice((4095, 4095, 4094, 4093))) for n in range(100)])

    assert {r.reason for r in readings[45:]} == {Reason.LOOP_SATURATED}
    assert {r.quality for r in readings[45:]} == {Quality.BAD}


def test_a_reversed_converter_saturates_at_its_other_end() -> None:
    it = AnalogChannel(format=UINT16, scaling=LoopScaling(4095, 819, 0.0, 10.0, 819))

    readings = run(it, [(0.0, 4095), (1.0, 820), (2.0, 819), (3.0, 500)])

    assert [r.reason for r in readings] == [Reason.NONE, Reason.NONE, Reason.LOOP_SATURATED, Reason.LOOP_SATURATED]
    assert readings[0].value == 0.0


def test_a_converter_that_reaches_21_ma_leaves_it_to_ne_43() -> None:
    it = AnalogChannel(format=INT16, scaling=LoopScaling(0, 27648, 0.0, 10.0, 32511))

    readings = run(it, [(0.0, 27648), *held(32511, 5, 1)])

    assert readings[0].quality is Quality.GOOD
    assert readings[0].value == 10.0
    assert readings[-1].reason is Reason.LOOP_FAILED_HIGH


def test_signed_counts_show_a_broken_wire() -> None:
    it = AnalogChannel(format=INT16, scaling=LoopScaling(0, 27648, 0.0, 10.0))

    readings = run(it, held(-4864, 5))

    assert readings[-1].reason is Reason.LOOP_FAILED_LOW
    assert readings[-1].current_ma == pytest.approx(1.1852, abs=5e-5)


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_no_number_is_bad(number: float) -> None:
    reading = run(ENGINEERING, [(0.0, number)])[0]

    assert (reading.quality, reading.reason, reading.value) == (Quality.BAD, Reason.NOT_A_NUMBER, None)
    assert str(number) in reading.detail


def test_a_scaling_that_overflows_is_no_number_either() -> None:
    it = AnalogChannel(format=FLOAT32, scaling=LinearScaling(scale=1e300, to_inside=1e300))

    assert run(it, [(0.0, 1e30)])[0].reason is Reason.NOT_A_NUMBER


@pytest.mark.parametrize(
    ("value", "reason", "sentence"),
    [
        (-5.0, Reason.NONE, ""),
        (20.0, Reason.NONE, ""),
        (-5.125, Reason.OUT_OF_RANGE, "-5.125 inH2O: below the lowest valid -5 inH2O"),
        (20.5, Reason.OUT_OF_RANGE, "20.5 inH2O: above the highest valid 20 inH2O"),
    ],
)
def test_outside_what_can_be_true_is_bad(value: float, reason: Reason, sentence: str) -> None:
    reading = run(ENGINEERING, [(0.0, value)])[0]

    assert (reading.reason, reading.detail) == (reason, sentence)
    assert reading.value == (None if reason is Reason.OUT_OF_RANGE else value)
    assert reading.raw == value


def test_the_loop_speaks_before_the_range() -> None:
    """A broken wire would be out of range at once; within its 4 s it is uncertain and no more."""
    it = AnalogChannel(format=INT16, scaling=LoopScaling(4000, 20000, 0.0, 10.0), valid_low=-0.2, valid_high=9.0)

    assert run(it, [(0.0, 0)])[0].quality is Quality.UNCERTAIN
    assert run(it, [(0.0, 19000)])[0].reason is Reason.OUT_OF_RANGE


def test_only_good_samples_feed_the_damping() -> None:
    it = AnalogChannel(format=INT16, scaling=LoopScaling(4000, 20000, 0.0, 10.0), median_samples=3, lag_s=5.0)

    readings = run(it, [(0.0, 12000), (1.0, 12000), (2.0, 3700), (3.0, 0), (4.0, 12000), (5.0, 12000)])

    assert [r.damped for r in readings] == [5.0, 5.0, None, None, 5.0, 5.0]


def test_damping_starts_anew_after_a_gap_longer_than_stale() -> None:
    it = AnalogChannel(format=INT16, scaling=LoopScaling(4000, 20000, 0.0, 10.0), lag_s=60.0, stale_after_s=10.0)

    readings = run(it, [(0.0, 12000), (10.0, 20000), (20.1, 4000)])

    assert readings[1].damped == pytest.approx(10.0 - 5.0 * math.exp(-1 / 6))
    assert readings[2].damped == 0.0


def test_a_failed_request_is_bad_with_its_reason_and_keeps_no_value() -> None:
    state, _ = channels.advance(MICROAMPS, channels.start(MICROAMPS), (12000,), at(0.0), None)

    after, reading = channels.fail(MICROAMPS, state, Failure(Reason.NO_ANSWER, "no answer within 1 s"), at(1.0))

    assert reading == Reading(Quality.BAD, Reason.NO_ANSWER, at(1.0), detail="no answer within 1 s")
    assert after == state


def test_failed_requests_do_not_start_the_4_s_again() -> None:
    """A slow or patchy link sees a failure level now and then; two in a row 4 s apart are enough."""
    state, _ = channels.advance(MICROAMPS, channels.start(MICROAMPS), (0,), at(0.0), None)
    state, _ = channels.fail(MICROAMPS, state, Failure(Reason.NO_ANSWER, ""), at(2.0))

    _, reading = channels.advance(MICROAMPS, state, (0,), at(4.0), None)

    assert reading.reason is Reason.LOOP_FAILED_LOW


@pytest.mark.parametrize("words", [(), (1, 2)])
def test_a_wrong_number_of_words_is_our_own_fault(words: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="takes 1 register"):
        channels.advance(MICROAMPS, channels.start(MICROAMPS), words, at(0.0), None)


def test_a_good_sample_without_memory_keeps_the_same_state() -> None:
    state = channels.start(MICROAMPS)

    assert channels.advance(MICROAMPS, state, (12000,), at(0.0), None)[0] is state


@pytest.mark.parametrize("edge", [3600, 3800, 20500, 21000])
def test_noise_at_an_edge_does_not_chatter(edge: int) -> None:
    noise = random.Random(edge)
    samples = [(n / 10, edge + noise.randint(-20, 20)) for n in range(6000)]

    readings = run(MICROAMPS, samples)

    changes = sum(a.reason is not b.reason for a, b in pairwise(readings))
    assert changes <= 3
    assert {r.quality for r in readings[100:]} == {Quality.BAD if edge in {3600, 21000} else Quality.UNCERTAIN}
