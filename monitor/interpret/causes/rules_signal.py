"""Rules of signal: what makes the signal say something else than the DP.

``rule`` explains the weights.
"""

from monitor.interpret.causes.about import About
from monitor.interpret.causes.kinds import Kind
from monitor.interpret.causes.rule import Rule, Says, Source
from monitor.troubles import Trouble

_HIGH, _LOW, _BAD, _WARNING = About.HIGH, About.LOW, About.BAD_SIGNAL, About.WARNING

SIGNAL_RULES: tuple[Rule, ...] = (
    Rule(
        Trouble.TAP_PLUGGED,
        {_HIGH: -1, _LOW: -1, _BAD: 0, _WARNING: 0},
        (
            Says(Kind.DP_STILL, 2, Source.COLLAPSE),
            Says(Kind.NOISE_GONE, 4, Source.COLLAPSE),
            Says(Kind.PULSES_UNANSWERED, 3, Source.PULSE),
            Says(Kind.DP_DRIFTED, 1, Source.CURVE),
            Says(Kind.DIPS_USUAL, 1, Source.PULSE),
            Says(Kind.OTHERS_WELL, 1, Source.PRACTICE),
            Says(Kind.OTHERS_ALIKE, -4, Source.PRACTICE),
            Says(Kind.NOISE_USUAL, -3, Source.COLLAPSE),
            Says(Kind.LOOP_FAILED, -5, Source.NE43),
            Says(Kind.NO_REPLY, -5, Source.PRACTICE),
            Says(Kind.CLEANING_WORKS, -1, Source.PULSE),
            Says(Kind.NOISE_UP, -3, Source.COLLAPSE),
        ),
    ),
    Rule(
        Trouble.TAP_HOSE_OFF,
        {_HIGH: -1, _LOW: 0, _BAD: 0, _WARNING: -1},
        (
            Says(Kind.DP_NONE, 3, Source.DRAG),
            Says(Kind.DP_NEGATIVE, 4, Source.DRAG),
            Says(Kind.LOOP_BELOW, 3, Source.NE43),
            Says(Kind.STEP_DOWN, 2, Source.CURVE),
            Says(Kind.STEP_UP, 3, Source.CURVE),
            Says(Kind.FLOW_USUAL, 1, Source.DRAG),
            Says(Kind.FAN_RUNS, 1, Source.DRAG),
            Says(Kind.FAN_STANDS, -5, Source.DRAG),
            Says(Kind.FLOW_DOWN, -3, Source.DRAG),
            Says(Kind.LOOP_FAILED, -5, Source.NE43),
            Says(Kind.NO_REPLY, -5, Source.PRACTICE),
            Says(Kind.OTHERS_ALIKE, -3, Source.PRACTICE),
            Says(Kind.FLOW_UP, -3, Source.DRAG),
            Says(Kind.CLEANING_NOT_CALLED, 1, Source.CURVE),
            Says(Kind.ZERO_OFF, -1, Source.DRAG),
        ),
    ),
    Rule(
        Trouble.ZERO_DRIFT,
        {_HIGH: -1, _LOW: 0, _BAD: 0, _WARNING: -1},
        (
            Says(Kind.ZERO_OFF, 5, Source.DRAG),
            Says(Kind.DP_NEGATIVE, 1, Source.DRAG),
            Says(Kind.LOOP_BELOW, 2, Source.NE43),
            Says(Kind.FLOW_USUAL, 1, Source.DRAG),
            Says(Kind.RISE_USUAL, 1, Source.CURVE),
            Says(Kind.STEP_DOWN, -3, Source.CURVE),
            Says(Kind.STEP_UP, -3, Source.CURVE),
            Says(Kind.ZERO_TRUE, -5, Source.DRAG),
            Says(Kind.NOISE_GONE, -3, Source.COLLAPSE),
            Says(Kind.LOOP_FAILED, -5, Source.NE43),
            Says(Kind.NO_REPLY, -5, Source.PRACTICE),
            Says(Kind.CURVE_SHIFTED, 3, Source.CURVE),
            Says(Kind.CLEANING_NOT_CALLED, 1, Source.CURVE),
            Says(Kind.NO_DIPS, -2, Source.PULSE),
            Says(Kind.HEADER_LOW, -2, Source.AIR),
            Says(Kind.FLOW_DOWN, -2, Source.DRAG),
            Says(Kind.FLOW_UP, -2, Source.DRAG),
            Says(Kind.DP_STILL, -3, Source.COLLAPSE),
            Says(Kind.CLEANED_TOO_LOW, -2, Source.CURVE),
        ),
    ),
    Rule(
        Trouble.LOOP_OPEN,
        {_BAD: 0},
        (
            Says(Kind.LOOP_FAILED, 6, Source.NE43),
            Says(Kind.OTHERS_WELL, 1, Source.PRACTICE),
            Says(Kind.NO_REPLY, -5, Source.PRACTICE),
            Says(Kind.DP_STILL, -4, Source.NE43),
            Says(Kind.OTHERS_ALIKE, -2, Source.PRACTICE),
        ),
    ),
    Rule(
        Trouble.GATEWAY_FROZEN,
        {_LOW: -1, _BAD: 0, _WARNING: -1},
        (
            Says(Kind.OTHERS_ALIKE, 4, Source.PRACTICE),
            Says(Kind.DP_STILL, 3, Source.PRACTICE),
            Says(Kind.NO_REPLY, 3, Source.PRACTICE),
            Says(Kind.OTHERS_WELL, -4, Source.PRACTICE),
            Says(Kind.LOOP_FAILED, -4, Source.NE43),
            Says(Kind.NOISE_GONE, -2, Source.COLLAPSE),
            Says(Kind.SIGNAL_MOVES, -5, Source.PRACTICE),
        ),
    ),
)
