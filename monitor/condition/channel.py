"""Channel: everything between the words off the wire and a reading one may trust, for one point.

A channel is settings; its state is carried from sample to sample by whoever calls. States are not saved over
a restart: whatever they remember is learnt anew within seconds or, for a frozen value, minutes.

Where several things are wrong the order is: no number, loop failed, out of range, frozen, loop uncertain.
"""

from dataclasses import dataclass
from math import isfinite

from monitor.condition import damping, frozen, loop_current, scaling, verdict
from monitor.condition.damping import DampingState
from monitor.condition.frozen import StillState
from monitor.condition.loop_current import LoopState
from monitor.condition.registers import RegisterFormat, decode
from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.condition.verdict import Verdict
from monitor.words import Failure, Instant, Quality, Reading, Reason


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalogChannel:
    """How one analog point is conditioned.

    Attributes:
        valid_low, valid_high: outside of these the reading is bad, out of range (inside units); for a loop
            NE 43 judges the current and these are None unless the file narrows them.
        median_samples: damping by the median of that many samples, odd, 3 to 15; None for none.
        lag_s: time constant of first-order damping after the median, seconds; None for none.
        frozen_after_s: a raw value that did not move for this long while the fan ran is frozen; None never.
        stale_after_s: without a reply for this long the reading is stale, seconds.
        span: width of the measuring range in inside units (the 2 % of span by default rules); None if unknown.
        unit: the inside unit, for the sentences in ``Reading.detail``; empty leaves it out.
    """

    format: RegisterFormat
    scaling: LoopScaling | LinearScaling
    valid_low: float | None = None
    valid_high: float | None = None
    median_samples: int | None = None
    lag_s: float | None = None
    frozen_after_s: float | None = None
    stale_after_s: float = 10.0
    span: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DiscreteChannel:
    """How one yes/no point is conditioned.

    Exactly one of three forms: a coil or discrete input (``bit`` and ``at_least`` both None); one ``bit``
    (0 is the least significant) of a 16-bit register; or a register ``at_least`` a threshold (motor amps),
    read by ``format`` and compared after ``scaling``.

    Attributes:
        inverted: true where 0 means yes (a normally closed contact).
        deadband: how far below ``at_least`` the value must fall before the answer turns to no, 0 or more.
    """

    bit: int | None = None
    at_least: float | None = None
    deadband: float = 0.0
    format: RegisterFormat | None = None
    scaling: LinearScaling | None = None
    inverted: bool = False
    stale_after_s: float = 10.0


@dataclass(frozen=True, slots=True)
class AnalogState:
    """What is remembered of an analog point between samples; the parts not in use stay as they start."""

    loop: LoopState = loop_current.HEALTHY
    damping: DampingState | None = None
    still: StillState | None = None


@dataclass(frozen=True, slots=True)
class DiscreteState:
    """Whether a discrete point compared against a threshold was last at or above it."""

    is_above: bool = False


Channel = AnalogChannel | DiscreteChannel
State = AnalogState | DiscreteState

_ANALOG_START = AnalogState()
_DISCRETE_START = DiscreteState()


def start(channel: Channel) -> State:
    """The state of a point of which nothing was read yet."""
    return _ANALOG_START if isinstance(channel, AnalogChannel) else _DISCRETE_START


def advance(
    channel: Channel, state: State, words: tuple[int, ...], at: Instant, fan_running: bool | None
) -> tuple[State, Reading]:
    """Take the words (or the bit) of one reply and say what they mean.

    Args:
        channel: the point's settings.
        state: of this channel, from ``start``, ``advance`` or ``fail``.
        words: exactly as many as the point takes.
        at: the moment of the reply.
        fan_running: None where it is not known.

    Raises:
        ValueError: not as many words as the point takes (the reader should have found that).
        TypeError: the state is another kind of channel's.
    """
    if isinstance(channel, AnalogChannel) and isinstance(state, AnalogState):
        return advance_analog(channel, state, words, at, fan_running)
    if isinstance(channel, DiscreteChannel) and isinstance(state, DiscreteState):
        return advance_discrete(channel, state, words, at)
    raise TypeError(f"{type(channel).__name__} cannot go on from {type(state).__name__}")


def advance_analog(
    channel: AnalogChannel, state: AnalogState, words: tuple[int, ...], at: Instant, fan_running: bool | None
) -> tuple[AnalogState, Reading]:
    """Take the words of one reply of an analog point; see ``advance``."""
    # One straight line, run for every sample of every point: each call it saves is felt.
    raw = decode(words, channel.format)
    value = scaling.to_value(channel.scaling, raw)
    if not isfinite(value):
        return _lose_sight(state, at), _not_good(verdict.not_a_number(raw), at, raw=raw)
    still = state.still
    if channel.frozen_after_s is not None:
        may_stand = fan_running is not True and frozen.may_stand_still(value, fan_running, channel.span)
        still = frozen.advance(still, raw, at.mono_s, may_stand=may_stand)
    loop, current_ma, fault = state.loop, None, None
    if isinstance(channel.scaling, LoopScaling):
        current_ma = scaling.to_current_ma(channel.scaling, raw)
        loop, fault = _follow_loop(channel.scaling, loop, current_ma, at.mono_s)
    fault = _gravest(channel, fault, value, still, at.mono_s, fan_running)
    if fault is not None:
        state = _moved(state, loop, state.damping, still)
        return state, _not_good(fault, at, value, raw, current_ma)
    damped = state.damping
    if channel.median_samples is not None or channel.lag_s is not None:
        damped = _damp(channel, damped, value, at.mono_s)
    shown = value if damped is None else damped.damped
    state = _moved(state, loop, damped, still)
    return state, Reading(Quality.GOOD, Reason.NONE, at, value, shown, raw, current_ma)


def advance_discrete(
    channel: DiscreteChannel, state: DiscreteState, words: tuple[int, ...], at: Instant
) -> tuple[DiscreteState, Reading]:
    """Take the bit or the words of one reply of a discrete point; see ``advance``."""
    if channel.at_least is not None:
        return _compare(channel, channel.at_least, state, words, at)
    if len(words) != 1:
        raise ValueError(f"a yes/no point takes 1 entry (got {len(words)})")
    is_set = bool(words[0] if channel.bit is None else words[0] >> channel.bit & 1)
    return state, _answer(channel, is_set, words[0], at)


def fail(channel: Channel, state: State, failure: Failure, at: Instant) -> tuple[State, Reading]:
    """Say what a request that brought nothing means: bad, with its reason and without a value.

    What was remembered is kept: a loop that was failing goes on failing, an answer inside its deadband stays,
    and damping goes on unless the gap gets longer than ``stale_after_s``. The frozen count stands still from
    the first failure to the next answer.
    """
    reading = Reading(Quality.BAD, failure.reason, at, detail=failure.detail)
    if isinstance(channel, AnalogChannel) and isinstance(state, AnalogState):
        return _lose_sight(state, at), reading
    return state, reading


def age(channel: Channel, reading: Reading, now: Instant) -> Reading | None:
    """The stale reading that takes the place of one older than ``stale_after_s``; None where none has to.

    A bad reading does not age: it says already what is wrong.
    """
    age_s = now.mono_s - reading.at.mono_s
    if age_s <= channel.stale_after_s or reading.quality is Quality.BAD:
        return None
    detail = f"no answer for {age_s:.1f} s: stale after {channel.stale_after_s:g} s"
    return Reading(Quality.BAD, Reason.STALE, now, detail=detail)


def _follow_loop(
    loop_scaling: LoopScaling, loop: LoopState, current_ma: float, at_s: float
) -> tuple[LoopState, Verdict | None]:
    end_ma = scaling.converter_end_ma(loop_scaling)
    loop = loop_current.advance(loop, current_ma, at_s, end_ma)
    return loop, verdict.of_loop(loop, current_ma, at_s, end_ma)


def _gravest(
    channel: AnalogChannel,
    of_loop: Verdict | None,
    value: float,
    still: StillState | None,
    at_s: float,
    fan_running: bool | None,
) -> Verdict | None:
    """The fault to tell of, in the order of the module's docstring; None for a good sample."""
    if of_loop is None:
        low, high = channel.valid_low, channel.valid_high
        if (low is not None and value < low) or (high is not None and value > high):
            return verdict.out_of_range(value, low, high, channel.unit)
    elif of_loop.quality is Quality.BAD:
        return of_loop
    frozen_after_s = channel.frozen_after_s
    if frozen_after_s is not None and still is not None and at_s - still.since_s >= frozen_after_s:
        return verdict.frozen(still.raw, frozen_after_s, fan_running)
    return of_loop


def _not_good(
    fault: Verdict, at: Instant, value: float | None = None, raw: float | None = None, ma: float | None = None
) -> Reading:
    # Only an uncertain reading shows its value; neither is ever damped.
    shown = value if fault.quality is Quality.UNCERTAIN else None
    return Reading(fault.quality, fault.reason, at, shown, None, raw, ma, fault.detail)


def _damp(channel: AnalogChannel, state: DampingState | None, value: float, at_s: float) -> DampingState:
    return damping.advance(
        state,
        value,
        at_s,
        median_samples=channel.median_samples,
        lag_s=channel.lag_s,
        restart_after_s=channel.stale_after_s,
    )


def _moved(
    state: AnalogState, loop: LoopState, damped: DampingState | None, still: StillState | None
) -> AnalogState:
    """The state with these parts; the same object where none changed, which is the common case."""
    if loop is state.loop and damped is state.damping and still is state.still:
        return state
    return AnalogState(loop, damped, still)


def _lose_sight(state: AnalogState, at: Instant) -> AnalogState:
    return _moved(state, state.loop, state.damping, frozen.lose_sight(state.still, at.mono_s))


def _compare(
    channel: DiscreteChannel, at_least: float, state: DiscreteState, words: tuple[int, ...], at: Instant
) -> tuple[DiscreteState, Reading]:
    """Is the number at or above the threshold, or was it, and is still inside the deadband?"""
    if channel.format is None:
        raise TypeError("a discrete point with a threshold needs a register format")
    raw = decode(words, channel.format)
    value = float(raw) if channel.scaling is None else scaling.to_value(channel.scaling, raw)
    if not isfinite(value):
        return state, _not_good(verdict.not_a_number(raw), at, raw=raw)
    limit = at_least - channel.deadband if state.is_above else at_least
    is_above = value >= limit
    return DiscreteState(is_above), _answer(channel, is_above, raw, at)


def _answer(channel: DiscreteChannel, is_set: bool, raw: float, at: Instant) -> Reading:
    value = 1.0 if is_set is not channel.inverted else 0.0
    return Reading(Quality.GOOD, Reason.NONE, at, value, value, raw)
