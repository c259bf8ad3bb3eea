"""Reach: the lowest and the highest value a point can show as a measurement, in inside units."""

from math import copysign

from monitor.condition import scaling
from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.condition.loop_current import MEASURING_HIGH_MA, MEASURING_LOW_MA
from monitor.condition.scaling import LoopScaling
from monitor.site import counts


def reach_of(
    channel: AnalogChannel | DiscreteChannel, measuring: tuple[float, float] | None = None
) -> tuple[float | None, float | None]:
    """Return both ends, None for an end that is not known.

    A loop reads valid from 3.8 to 20.5 mA (NAMUR NE 43), unless its converter ends before: there the last
    count is no measurement. A valid range narrows both.

    Args:
        channel: the point.
        measuring: the measuring range that the file states for engineering units, in inside units.
    """
    if isinstance(channel, DiscreteChannel):
        return None, None
    low, high = measuring or (None, None)
    if isinstance(channel.scaling, LoopScaling):
        low, high = _of_loop(channel.scaling)
    elif measuring is None:
        low, high = _of_register(channel)
    return _larger(low, channel.valid_low), _smaller(high, channel.valid_high)


def _of_loop(loop: LoopScaling) -> tuple[float, float]:
    first = scaling.counts_at_current(loop, MEASURING_LOW_MA)
    last = scaling.counts_at_current(loop, MEASURING_HIGH_MA)
    if loop.full_scale_counts is not None and scaling.converter_end_ma(loop) <= MEASURING_HIGH_MA:
        # The last count is no measurement, the one before it is.
        last = loop.full_scale_counts - copysign(1.0, loop.counts_at_20_ma - loop.counts_at_4_ma)
    ends = sorted(scaling.to_value(loop, counts) for counts in (first, last))
    return ends[0], ends[1]


def _of_register(channel: AnalogChannel) -> tuple[float | None, float | None]:
    """What an integer register can hold at all; a float has no end worth naming."""
    ends = counts.RANGE.get(channel.format.encoding)
    if ends is None:
        return None, None
    values = sorted(scaling.to_value(channel.scaling, end) for end in ends)
    return values[0], values[-1]


def _larger(first: float | None, second: float | None) -> float | None:
    return second if first is None else first if second is None else max(first, second)


def _smaller(first: float | None, second: float | None) -> float | None:
    return second if first is None else first if second is None else min(first, second)
