"""Stretch channel: how many numbers of one analog point are plainly good, and what they leave behind."""

from collections.abc import Sequence
from math import exp

from monitor.condition import frozen, loop_current, scaling
from monitor.condition.channel import AnalogChannel, AnalogState
from monitor.condition.damping import DampingState
from monitor.condition.frozen import StillState
from monitor.condition.loop_current import LoopClass
from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.words import Instant, Quality, Reading, Reason

_IDENTITY = LinearScaling()


def limit(
    channel: AnalogChannel, state: AnalogState, at_s: Sequence[float], raw: Sequence[float], fan: bool | None
) -> int:
    """How many of these come before the first that is not plainly a good reading, or cannot be damped plainly.

    Gaps are looked for elsewhere. The numbers must be finite.
    """
    damped = state.damping
    is_damped = channel.median_samples is not None or channel.lag_s is not None
    if is_damped and (damped is None or len(damped.window) != (channel.median_samples or 0)):
        return 0
    if state.loop != loop_current.HEALTHY:
        return 0
    count = _inside(channel, raw)
    return min(count, _moving(channel, state.still, at_s[:count], raw[:count], fan))


def damped(
    channel: AnalogChannel, state: AnalogState, at_s: Sequence[float], raw: Sequence[float]
) -> Sequence[float]:
    """The damped value of each number."""
    found = values(channel, raw)
    before = state.damping
    if before is None:
        return found
    if channel.median_samples is not None:
        found = _medians(before.window, found)
    return _lagged(before, at_s, found, channel.lag_s) if channel.lag_s else found


def after(
    channel: AnalogChannel,
    state: AnalogState,
    at_s: Sequence[float],
    raw: Sequence[float],
    fan: bool | None,
    done: Sequence[float],
    last: Instant,
) -> tuple[AnalogState, Reading]:
    """What is remembered after these numbers (1 or more), and the last reading.

    Args:
        channel: the point's settings.
        state: before them.
        at_s: their moments, scan clock.
        raw: the numbers, all within ``limit``.
        fan: whether it runs; None where that is not known.
        done: their damped values.
        last: the moment of the last.
    """
    value = scaling.to_value(channel.scaling, raw[-1])
    current_ma = None
    if isinstance(channel.scaling, LoopScaling):
        current_ma = scaling.to_current_ma(channel.scaling, raw[-1])
    damping = state.damping
    if damping is not None:
        damping = DampingState(_window(channel, damping.window, raw), done[-1], at_s[-1])
    reading = Reading(Quality.GOOD, Reason.NONE, last, value, done[-1], raw[-1], current_ma)
    return AnalogState(state.loop, damping, _still(channel, state.still, at_s, raw, fan)), reading


def values(channel: AnalogChannel, raw: Sequence[float]) -> Sequence[float]:
    """The numbers in engineering units, before damping."""
    loop = channel.scaling
    if loop == _IDENTITY:
        return raw
    if not isinstance(loop, LoopScaling):
        return [scaling.to_value(loop, number) for number in raw]
    # As ``scaling.to_value`` has it, without a call for each.
    zero, low = loop.counts_at_4_ma, loop.value_at_4_ma
    width, span = loop.counts_at_20_ma - zero, loop.value_at_20_ma - low
    return [low + (number - zero) / width * span for number in raw]


def _inside(channel: AnalogChannel, raw: Sequence[float]) -> int:
    """How many come before the first outside the range, or whose loop current is no plain measurement.

    Scaling keeps the order of numbers (or turns it round), so that only the least and the greatest need be asked.
    """
    if _is_inside(channel, min(raw)) and _is_inside(channel, max(raw)):
        return len(raw)
    return next(place for place, number in enumerate(raw) if not _is_inside(channel, number))


def _is_inside(channel: AnalogChannel, number: float) -> bool:
    value = scaling.to_value(channel.scaling, number)
    if (channel.valid_low is not None and value < channel.valid_low) or (
        channel.valid_high is not None and value > channel.valid_high
    ):
        return False
    if not isinstance(channel.scaling, LoopScaling):
        return True
    current_ma = scaling.to_current_ma(channel.scaling, number)
    return loop_current.classify(current_ma, scaling.converter_end_ma(channel.scaling)) is LoopClass.MEASUREMENT


def _moving(
    channel: AnalogChannel, still: StillState | None, at_s: Sequence[float], raw: Sequence[float], fan: bool | None
) -> int:
    """How many come before a number has stood still too long."""
    longest_s = channel.frozen_after_s
    if longest_s is None or not raw or fan is False:
        return len(raw)
    if still is None or still.unseen_from_s is not None:
        return 0
    if at_s[-1] - still.since_s < longest_s or _moves_often(at_s, raw, longest_s, still):
        return len(raw)
    for place, number in enumerate(raw):
        still = frozen.advance(still, number, at_s[place], may_stand=_may_stand(channel, number, fan))
        if at_s[place] - still.since_s >= longest_s:
            return place
    return len(raw)


def _moves_often(at_s: Sequence[float], raw: Sequence[float], longest_s: float, still: StillState) -> bool:
    """Whether looks a quarter as far apart as would be too long all see another number than the look before."""
    seen, seen_s = still.raw, still.since_s
    for place, number in enumerate(raw):
        if place == len(raw) - 1 or at_s[place + 1] - seen_s > longest_s / 4:
            if number == seen and at_s[place] > seen_s:
                return False
            seen, seen_s = number, at_s[place]
    return True


def _may_stand(channel: AnalogChannel, number: float, fan: bool | None) -> bool:
    value = scaling.to_value(channel.scaling, number)
    return fan is not True and frozen.may_stand_still(value, fan, channel.span)


def _still(
    channel: AnalogChannel, still: StillState | None, at_s: Sequence[float], raw: Sequence[float], fan: bool | None
) -> StillState | None:
    """Since when the last number stands."""
    if channel.frozen_after_s is None:
        return still
    last, place = raw[-1], len(raw) - 1
    if _may_stand(channel, last, fan):
        return StillState(last, at_s[-1])
    while place and raw[place - 1] == last:
        place -= 1
    if place == 0 and still is not None and still.raw == last:
        return still
    return StillState(last, at_s[place])


def _window(channel: AnalogChannel, window: tuple[float, ...], raw: Sequence[float]) -> tuple[float, ...]:
    """The latest samples, of which the next median will be."""
    if channel.median_samples is None:
        return ()
    latest = values(channel, raw[-channel.median_samples :])
    return (*window, *latest)[-channel.median_samples :]


def _medians(window: tuple[float, ...], values: Sequence[float]) -> list[float]:
    """The median of each value and those before it; the window is full."""
    size = len(window)
    line = [*window[1:], *values]
    if size == 3:
        # Written out: nearly every damping is a median of three, and sorting costs four times as much.
        return [
            a if (b < a) != (c < a) else (b if b < c else c) if b >= a else (b if b > c else c)
            for a, b, c in zip(line, line[1:], values, strict=False)
        ]
    half = size // 2
    return [sorted(line[place : place + size])[half] for place in range(len(values))]


def _lagged(before: DampingState, at_s: Sequence[float], values: Sequence[float], lag_s: float) -> list[float]:
    shown: list[float] = []
    last, last_s = before.damped, before.at_s
    for value, now_s in zip(values, at_s, strict=True):
        last = value + (last - value) * exp(-max(0.0, (now_s - last_s) / lag_s))
        last_s = now_s
        shown.append(last)
    return shown
