"""Rules of air: what changes the air, or the way it takes, or the dust in it.

``rule`` explains the weights.
"""

from monitor.interpret.causes.about import About
from monitor.interpret.causes.kinds import Kind
from monitor.interpret.causes.rule import Rule, Says, Source
from monitor.troubles import Trouble

_HIGH, _LOW, _BAD, _WARNING = About.HIGH, About.LOW, About.BAD_SIGNAL, About.WARNING

AIR_RULES: tuple[Rule, ...] = (
    Rule(
        Trouble.TORN_BAG,
        {_LOW: 0, _WARNING: 0},
        (
            Says(Kind.STEP_DOWN, 3, Source.LEAK),
            Says(Kind.FLOW_USUAL, 1, Source.LEAK),
            Says(Kind.FLOW_UP, 3, Source.LEAK),
            Says(Kind.CYCLES_RARE, 1, Source.LEAK),
            Says(Kind.RISE_SLOW, 1, Source.LEAK),
            Says(Kind.FLOW_DOWN, -3, Source.DRAG),
            Says(Kind.NOISE_GONE, -3, Source.COLLAPSE),
            Says(Kind.DP_NONE, -3, Source.DRAG),
            Says(Kind.DP_NEGATIVE, -5, Source.DRAG),
            Says(Kind.DP_STILL, -4, Source.COLLAPSE),
            Says(Kind.FAN_STANDS, -5, Source.DRAG),
            Says(Kind.CLEANING_ENDLESS, -1, Source.CURVE),
            Says(Kind.CLEANING_NOT_SEEN, -4, Source.LEAK),
            Says(Kind.CLEANING_NOT_CALLED, -3, Source.LEAK),
            Says(Kind.CLEANING_WITHOUT_EFFECT, -2, Source.LEAK),
            Says(Kind.CLEANING_DEEPER, -2, Source.CURVE),
            Says(Kind.CLEANED_TOO_LOW, -3, Source.CURVE),
        ),
    ),
    Rule(
        Trouble.DUCT_BLOCKED,
        {_LOW: 0, _WARNING: -1},
        (
            Says(Kind.FLOW_DOWN, 5, Source.DRAG),
            Says(Kind.RISE_SLOW, 1, Source.DRAG),
            Says(Kind.CYCLES_RARE, 1, Source.DRAG),
            Says(Kind.FLOW_NONE, 1, Source.DRAG),
            Says(Kind.FLOW_USUAL, -4, Source.DRAG),
            Says(Kind.FLOW_UP, -4, Source.DRAG),
            Says(Kind.FAN_STANDS, -4, Source.DRAG),
            Says(Kind.DP_NEGATIVE, -4, Source.DRAG),
            Says(Kind.DP_STILL, -4, Source.COLLAPSE),
        ),
    ),
    Rule(
        Trouble.FAN_STOPPED,
        {_LOW: 0, _WARNING: -1},
        (
            Says(Kind.FAN_STANDS, 6, Source.DRAG),
            Says(Kind.DP_NONE, 2, Source.DRAG),
            Says(Kind.FLOW_NONE, 4, Source.DRAG),
            Says(Kind.FLOW_DOWN, -1, Source.DRAG),
            Says(Kind.FAN_RUNS, -6, Source.DRAG),
            Says(Kind.FLOW_USUAL, -4, Source.DRAG),
            Says(Kind.DP_NEGATIVE, -3, Source.DRAG),
        ),
    ),
    Rule(
        Trouble.DUST_LOAD_UP,
        {_HIGH: 0, _WARNING: 0},
        (
            Says(Kind.RISE_FAST, 1, Source.DRAG),
            Says(Kind.CYCLES_OFTEN, 2, Source.CURVE),
            Says(Kind.CLEANING_WORKS, 1, Source.CURVE),
            Says(Kind.FLOW_USUAL, 1, Source.DRAG),
            Says(Kind.DIPS_USUAL, 1, Source.PULSE),
            Says(Kind.FLOW_UP, -2, Source.DRAG),
            Says(Kind.NO_DIPS, -4, Source.PULSE),
            Says(Kind.HEADER_LOW, -4, Source.AIR),
            Says(Kind.RISE_USUAL, -3, Source.DRAG),
            Says(Kind.STEP_UP, -2, Source.DRAG),
            Says(Kind.RESIDUAL_RISING, -1, Source.CURVE),
            Says(Kind.CLEANED_TOO_LOW, -4, Source.CURVE),
            Says(Kind.RISE_DOUBLED, 3, Source.DRAG),
            Says(Kind.NOISE_GONE, -3, Source.COLLAPSE),
            Says(Kind.DP_STILL, -4, Source.COLLAPSE),
        ),
    ),
    Rule(
        Trouble.FLOW_UP,
        {_HIGH: 0, _WARNING: -1},
        (
            Says(Kind.FLOW_UP, 5, Source.DRAG),
            Says(Kind.STEP_UP, 2, Source.DRAG),
            Says(Kind.RISE_FAST, 2, Source.DRAG),
            Says(Kind.CLEANING_WORKS, 1, Source.CURVE),
            Says(Kind.FLOW_USUAL, -5, Source.DRAG),
            Says(Kind.FLOW_DOWN, -5, Source.DRAG),
            Says(Kind.NO_DIPS, -2, Source.PULSE),
            Says(Kind.HEADER_LOW, -2, Source.AIR),
            Says(Kind.CLEANED_TOO_LOW, -4, Source.CURVE),
            Says(Kind.RISE_DOUBLED, 1, Source.DRAG),
            Says(Kind.NOISE_GONE, -3, Source.COLLAPSE),
            Says(Kind.DP_STILL, -4, Source.COLLAPSE),
        ),
    ),
)
