"""Loop current: is this current a measurement, or a transmitter in distress?

NAMUR NE 43 sets aside the ends of the 4–20 mA loop. From 3.8 to 20.5 mA the current carries a measurement; at
or below 3.6 mA and at or above 21.0 mA it carries failure information, which counts once it has lasted 4 s.
The two bands between belong to neither: a current there is shown and never trusted.

A converter that ends below 21 mA can never show a failure upwards; its last count is a level of its own,
treated as a failure level is. (Limits as published in secondary sources; the standard's text is sold.)
"""

from dataclasses import dataclass
from enum import IntEnum
from math import inf

FAILURE_LOW_MA = 3.6
MEASURING_LOW_MA = 3.8
MEASURING_HIGH_MA = 20.5
FAILURE_HIGH_MA = 21.0
FAILURE_LASTS_S = 4.0

#: How far inside a limit the current must come before it counts as back. Our own choice: a quarter of the
#: narrowest band of NE 43 (0.2 mA), so that no band is swallowed, and more than twice the noise (about
#: ±0.02 mA) of an ordinary loop.
HYSTERESIS_MA = 0.05


class LoopClass(IntEnum):
    """The classes of a loop current, in the order in which they lie along the current."""

    FAILED_LOW = -2
    BELOW_MEASURING = -1
    MEASUREMENT = 0
    ABOVE_MEASURING = 1
    SATURATED = 2
    FAILED_HIGH = 3


#: Levels that are a failure once they have lasted.
FAILURE_LEVELS = frozenset({LoopClass.FAILED_LOW, LoopClass.SATURATED, LoopClass.FAILED_HIGH})


@dataclass(frozen=True, slots=True)
class LoopState:
    """Where a loop stands.

    Attributes:
        level: its class, held by the hysteresis.
        failing_since_s: when it came to a failure level, scan clock; None while it is at none.
    """

    level: LoopClass = LoopClass.MEASUREMENT
    failing_since_s: float | None = None


HEALTHY = LoopState()


def classify(current_ma: float, converter_end_ma: float = inf) -> LoopClass:
    """The class of one current by itself, without hysteresis or time.

    Args:
        current_ma: the loop current; a NaN is no measurement and comes out as failed low.
        converter_end_ma: the largest current the converter can show; from 21 mA on it changes nothing,
            because NE 43 then covers it.
    """
    if current_ma >= converter_end_ma and converter_end_ma < FAILURE_HIGH_MA:
        return LoopClass.SATURATED
    if MEASURING_LOW_MA <= current_ma <= MEASURING_HIGH_MA:
        return LoopClass.MEASUREMENT
    if current_ma > MEASURING_HIGH_MA:
        return LoopClass.FAILED_HIGH if current_ma >= FAILURE_HIGH_MA else LoopClass.ABOVE_MEASURING
    return LoopClass.BELOW_MEASURING if current_ma > FAILURE_LOW_MA else LoopClass.FAILED_LOW


def advance(state: LoopState, current_ma: float, at_s: float, converter_end_ma: float = inf) -> LoopState:
    """Where the loop stands after this sample; the same object where nothing changed.

    Outwards a limit counts at once, inwards only with the hysteresis, so noise at an edge flips the class
    once and neither chatters nor starts the 4 s again. The 4 s go on from one failure level to another (a
    loose wire may swing from one end to the other and is never well in between), and over time in which
    nothing was read: two samples in a row at a failure level are all that a slow scan ever sees.
    """
    seen = classify(current_ma, converter_end_ma)
    level = state.level
    if seen is level:
        return state
    level = _held(level, seen, current_ma, converter_end_ma)
    if level is state.level:
        return state
    if level not in FAILURE_LEVELS:
        return LoopState(level)
    since_s = at_s if state.failing_since_s is None else state.failing_since_s
    return LoopState(level, since_s)


def has_failed(state: LoopState, at_s: float) -> bool:
    """Whether the loop is at a failure level and has been for 4 s."""
    return state.failing_since_s is not None and at_s - state.failing_since_s >= FAILURE_LASTS_S


def _held(level: LoopClass, seen: LoopClass, current_ma: float, converter_end_ma: float) -> LoopClass:
    """Follow what is seen with the play of the hysteresis, like a gear with some backlash."""
    if level < LoopClass.MEASUREMENT and seen <= LoopClass.MEASUREMENT:
        outer = classify(current_ma - HYSTERESIS_MA, converter_end_ma)
        return min(max(level, outer), seen)
    if level > LoopClass.MEASUREMENT and seen >= LoopClass.MEASUREMENT:
        outer = classify(current_ma + HYSTERESIS_MA, converter_end_ma)
        return max(min(level, outer), seen)
    # Out of measuring, or across it to the other end: nothing is held back.
    return seen
