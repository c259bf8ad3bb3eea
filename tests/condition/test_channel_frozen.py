"""Frozen and stale: a value that does not move or does not come is no value."""

import pytest

from monitor.condition import channel as channels
from monitor.condition.channel import AnalogChannel, DiscreteChannel, State
from monitor.condition.registers import Encoding, RegisterFormat
from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.words import Failure, Instant, Quality, Reading, Reason

COUNTS = AnalogChannel(
    format=RegisterFormat(Encoding.INT16),
    scaling=LoopScaling(4000, 20000, 0.0, 10.0),
    frozen_after_s=60.0,
    lag_s=10.0,
    span=10.0,
)
SILENT = Failure(Reason.NO_ANSWER, "no answer within 1 s")


def at(mono_s: float) -> Instant:
    return Instant(mono_s, 1_700_000_000.0 + mono_s)


class Watched:
    """A channel with its state, one sample a second."""

    def __init__(self, channel: AnalogChannel = COUNTS) -> None:
        self.channel = channel
        self.state: State = channels.start(channel)
        self.now_s = 0

    def see(self, raw: int, seconds: int = 1, fan: bool | None = True) -> list[Reading]:
        readings = []
        for _ in range(seconds):
            self.state, reading = channels.advance(self.channel, self.state, (raw,), at(self.now_s), fan)
            readings.append(reading)
            self.now_s += 1
        return readings

    def miss(self, seconds: int = 1) -> None:
        for _ in range(seconds):
            self.state, _ = channels.fail(self.channel, self.state, SILENT, at(self.now_s))
            self.now_s += 1


def test_a_number_that_stands_still_while_the_fan_runs_is_frozen_until_it_moves() -> None:
    watched = Watched()

    readings = watched.see(12000, 90)

    assert {r.quality for r in readings[:60]} == {Quality.GOOD}
    assert {(r.quality, r.reason, r.value, r.damped) for r in readings[60:]} == {
        (Quality.BAD, Reason.FROZEN, None, None)
    }
    assert readings[60].raw == 12000
    assert readings[60].detail == "raw 12000 has not moved for 60 s while the fan ran"
    assert watched.see(12001)[0].quality is Quality.GOOD
    assert watched.see(12001, 59)[-1].quality is Quality.GOOD
    assert watched.see(12001)[0].reason is Reason.FROZEN


def test_the_smallest_movement_is_a_sign_of_life() -> None:
    watched = Watched()

    for n in range(300):
        assert watched.see(12000 + n // 50 % 2)[0].quality is Quality.GOOD


def test_a_stopped_fan_may_stand_still_and_the_count_starts_anew_with_it() -> None:
    watched = Watched()
    watched.see(4000, 50, fan=True)

    assert {r.quality for r in watched.see(4000, 500, fan=False)} == {Quality.GOOD}
    # The count runs from the last sample with the fan stopped.
    assert {r.quality for r in watched.see(4000, 59, fan=True)} == {Quality.GOOD}
    assert watched.see(4000, fan=True)[0].reason is Reason.FROZEN


def test_stopping_the_fan_ends_a_frozen_value() -> None:
    watched = Watched()
    watched.see(12000, 70)

    assert watched.see(12000, fan=False)[0].quality is Quality.GOOD


@pytest.mark.parametrize(
    ("raw", "frozen"), [(4000, False), (4320, False), (3840, False), (4321, True), (12000, True)]
)
def test_with_the_fan_unknown_it_is_frozen_too_but_not_near_zero(raw: int, frozen: bool) -> None:
    """Within 2 % of span a stopped fan reads the same."""
    reading = Watched().see(raw, 100, fan=None)[-1]

    assert (reading.reason is Reason.FROZEN) is frozen
    if frozen:
        assert reading.detail.endswith("for 60 s and the fan is not known to be stopped")


@pytest.mark.parametrize(("raw", "frozen"), [(1, False), (10, False), (11, True)])
def test_without_a_span_near_zero_is_a_tenth_of_a_unit(raw: int, frozen: bool) -> None:
    it = AnalogChannel(
        format=RegisterFormat(Encoding.INT16), scaling=LinearScaling(scale=0.01), frozen_after_s=60.0
    )

    assert (Watched(it).see(raw, 100, fan=None)[-1].reason is Reason.FROZEN) is frozen


def test_failed_requests_neither_forget_nor_count() -> None:
    """50 s seen, ten minutes of silence, and the rest of the 60 s from there."""
    watched = Watched()
    watched.see(12000, 50)
    watched.miss(600)

    readings = watched.see(12000, 20)

    assert {r.quality for r in readings[:10]} == {Quality.GOOD}
    assert {r.reason for r in readings[10:]} == {Reason.FROZEN}


def test_a_frozen_value_is_frozen_still_after_a_failed_request() -> None:
    watched = Watched()
    watched.see(12000, 70)
    watched.miss(30)

    assert watched.see(12000)[0].reason is Reason.FROZEN


def test_a_spell_without_a_number_is_as_a_spell_without_an_answer() -> None:
    it = AnalogChannel(format=RegisterFormat(Encoding.FLOAT32), scaling=LinearScaling(), frozen_after_s=60.0)
    five, no_number = (0x40A0, 0x0000), (0x7FC0, 0x0000)
    state = channels.start(it)
    for mono_s, words in [(0, five), (50, five), (51, no_number), (650, no_number), (651, five), (659, five)]:
        state, reading = channels.advance(it, state, words, at(mono_s), True)

    assert reading.quality is Quality.GOOD
    assert channels.advance(it, state, five, at(661), True)[1].reason is Reason.FROZEN


def test_frozen_is_told_before_a_loop_that_is_merely_uncertain() -> None:
    readings = Watched().see(3700, 70)

    assert readings[0].quality is Quality.UNCERTAIN
    assert readings[-1].reason is Reason.FROZEN


def test_a_failed_loop_is_told_before_frozen() -> None:
    assert Watched().see(0, 70)[-1].reason is Reason.LOOP_FAILED_LOW


def test_damping_starts_anew_after_a_frozen_spell() -> None:
    watched = Watched()
    watched.see(12000, 90)

    reading = watched.see(20000)[0]

    assert reading.damped == reading.value == 10.0


@pytest.mark.parametrize(
    "channel", [AnalogChannel(format=COUNTS.format, scaling=COUNTS.scaling), DiscreteChannel()]
)
def test_a_reading_that_no_answer_follows_gets_stale(channel: AnalogChannel | DiscreteChannel) -> None:
    reading = Reading(Quality.GOOD, Reason.NONE, at(100.0), 1.0, 1.0, 12000, 12.0)

    assert channels.age(channel, reading, at(110.0)) is None
    stale = channels.age(channel, reading, at(110.5))

    assert stale == Reading(Quality.BAD, Reason.STALE, at(110.5), detail="no answer for 10.5 s: stale after 10 s")


def test_an_uncertain_reading_gets_stale_and_a_bad_one_does_not() -> None:
    uncertain = Reading(Quality.UNCERTAIN, Reason.LOOP_BELOW_MEASURING, at(0.0), -0.2)
    bad = Reading(Quality.BAD, Reason.NO_ANSWER, at(0.0))

    assert channels.age(COUNTS, uncertain, at(11.0)) is not None
    assert channels.age(COUNTS, bad, at(1e6)) is None


def test_a_wall_clock_that_steps_makes_nothing_stale() -> None:
    reading = Reading(Quality.GOOD, Reason.NONE, Instant(100.0, 1e9), 1.0, 1.0)

    assert channels.age(COUNTS, reading, Instant(101.0, 2e9)) is None
    assert channels.age(COUNTS, reading, Instant(111.0, 1e9)) is not None
