"""Kinds: the name of every clue, and the aspect under which each looks at the collector.

Two clues of one aspect are two views of the same thing (no sawtooth, a cleaning that never ends): counted as if
they were independent they would make the tool surer than it may be. So of each aspect only the strongest counts.
"""

from collections.abc import Mapping
from enum import StrEnum


class Aspect(StrEnum):
    """What is looked at; aspects are taken for independent of one another."""

    SIGNAL = "the signal itself"
    LINK = "the others on the link"
    FAN = "the fan"
    LEVEL = "the level of the DP"
    EFFECT = "what cleaning does to the DP"
    CONTROLLER = "what the controller calls for"
    HEADER = "the header pressure"
    DIPS = "the dips of the header"
    RESIDUAL = "the residual DP"
    TREND = "the residual DP over weeks"
    PACE = "how often it is cleaned"
    SHAPE = "the shape of the sawtooth"
    RISE = "how fast the DP rises"
    STEP = "sudden changes"
    FLOW = "the air flow"
    DRIFT = "slow drift and zero"
    NOISE = "the noise on the DP"


class Kind(StrEnum):
    """One clue: a condition that shows. What is not known shows nothing."""

    LOOP_FAILED = "loop_failed"
    LOOP_BELOW = "loop_below"
    NO_REPLY = "no_reply"
    DP_STILL = "dp_still"
    SIGNAL_MOVES = "signal_moves"
    OTHERS_ALIKE = "others_alike"
    OTHERS_WELL = "others_well"
    FAN_STANDS = "fan_stands"
    FAN_RUNS = "fan_runs"
    DP_NONE = "dp_none"
    DP_NEGATIVE = "dp_negative"
    CLEANING_WITHOUT_EFFECT = "cleaning_without_effect"
    CLEANING_WEAK = "cleaning_weak"
    CLEANING_DEEPER = "cleaning_deeper"
    CLEANING_WORKS = "cleaning_works"
    CLEANING_NOT_CALLED = "cleaning_not_called"
    CLEANING_NOT_SEEN = "cleaning_not_seen"
    CLEANING_SHORT_OF_STOP = "cleaning_short_of_stop"
    CLEANED_TOO_LOW = "cleaned_too_low"
    CLEANING_ENDLESS = "cleaning_endless"
    SAWTOOTH_GONE = "sawtooth_gone"
    PULSES_UNANSWERED = "pulses_unanswered"
    HEADER_LOW = "header_low"
    HEADER_SLOW = "header_slow"
    DIPS_WEAK = "dips_weak"
    HEADER_USUAL = "header_usual"
    NO_DIPS = "no_dips"
    SOME_DIPS_MISSING = "some_dips_missing"
    DIPS_USUAL = "dips_usual"
    RESIDUAL_UP = "residual_up"
    RESIDUAL_DOWN = "residual_down"
    RESIDUAL_USUAL = "residual_usual"
    RESIDUAL_RISING = "residual_rising"
    RESIDUAL_STEADY = "residual_steady"
    CYCLES_OFTEN = "cycles_often"
    CYCLES_RARE = "cycles_rare"
    CURVE_SHIFTED = "curve_shifted"
    RISE_FAST = "rise_fast"
    RISE_DOUBLED = "rise_doubled"
    RISE_SLOW = "rise_slow"
    RISE_HELD = "rise_held"
    RISE_USUAL = "rise_usual"
    STEP_UP = "step_up"
    STEP_DOWN = "step_down"
    FLOW_UP = "flow_up"
    FLOW_DOWN = "flow_down"
    FLOW_USUAL = "flow_usual"
    FLOW_NONE = "flow_none"
    DP_DRIFTED = "dp_drifted"
    ZERO_OFF = "zero_off"
    ZERO_TRUE = "zero_true"
    NOISE_GONE = "noise_gone"
    NOISE_UP = "noise_up"
    NOISE_USUAL = "noise_usual"


ASPECT_OF: Mapping[Kind, Aspect] = {
    Kind.LOOP_FAILED: Aspect.SIGNAL,
    Kind.LOOP_BELOW: Aspect.SIGNAL,
    Kind.NO_REPLY: Aspect.SIGNAL,
    Kind.DP_STILL: Aspect.NOISE,
    Kind.SIGNAL_MOVES: Aspect.SIGNAL,
    Kind.OTHERS_ALIKE: Aspect.LINK,
    Kind.OTHERS_WELL: Aspect.LINK,
    Kind.FAN_STANDS: Aspect.FAN,
    Kind.FAN_RUNS: Aspect.FAN,
    Kind.DP_NONE: Aspect.LEVEL,
    Kind.DP_NEGATIVE: Aspect.LEVEL,
    Kind.CLEANING_WITHOUT_EFFECT: Aspect.EFFECT,
    Kind.CLEANING_WEAK: Aspect.EFFECT,
    Kind.CLEANING_DEEPER: Aspect.EFFECT,
    Kind.CLEANING_WORKS: Aspect.EFFECT,
    Kind.CLEANING_NOT_CALLED: Aspect.CONTROLLER,
    Kind.CLEANING_NOT_SEEN: Aspect.CONTROLLER,
    Kind.CLEANING_SHORT_OF_STOP: Aspect.EFFECT,
    Kind.CLEANED_TOO_LOW: Aspect.CONTROLLER,
    Kind.CLEANING_ENDLESS: Aspect.EFFECT,
    Kind.SAWTOOTH_GONE: Aspect.EFFECT,
    Kind.PULSES_UNANSWERED: Aspect.EFFECT,
    Kind.HEADER_LOW: Aspect.HEADER,
    Kind.HEADER_SLOW: Aspect.HEADER,
    Kind.DIPS_WEAK: Aspect.HEADER,
    Kind.HEADER_USUAL: Aspect.HEADER,
    Kind.NO_DIPS: Aspect.DIPS,
    Kind.SOME_DIPS_MISSING: Aspect.DIPS,
    Kind.DIPS_USUAL: Aspect.DIPS,
    Kind.RESIDUAL_UP: Aspect.RESIDUAL,
    Kind.RESIDUAL_DOWN: Aspect.RESIDUAL,
    Kind.RESIDUAL_USUAL: Aspect.RESIDUAL,
    Kind.RESIDUAL_RISING: Aspect.TREND,
    Kind.RESIDUAL_STEADY: Aspect.TREND,
    Kind.CYCLES_OFTEN: Aspect.PACE,
    Kind.CYCLES_RARE: Aspect.PACE,
    Kind.CURVE_SHIFTED: Aspect.SHAPE,
    Kind.RISE_FAST: Aspect.RISE,
    Kind.RISE_DOUBLED: Aspect.RISE,
    Kind.RISE_SLOW: Aspect.RISE,
    Kind.RISE_HELD: Aspect.RISE,
    Kind.RISE_USUAL: Aspect.RISE,
    Kind.STEP_UP: Aspect.STEP,
    Kind.STEP_DOWN: Aspect.STEP,
    Kind.FLOW_UP: Aspect.FLOW,
    Kind.FLOW_DOWN: Aspect.FLOW,
    Kind.FLOW_USUAL: Aspect.FLOW,
    Kind.FLOW_NONE: Aspect.FLOW,
    Kind.DP_DRIFTED: Aspect.DRIFT,
    Kind.ZERO_OFF: Aspect.DRIFT,
    Kind.ZERO_TRUE: Aspect.DRIFT,
    Kind.NOISE_GONE: Aspect.NOISE,
    Kind.NOISE_UP: Aspect.NOISE,
    Kind.NOISE_USUAL: Aspect.NOISE,
}
