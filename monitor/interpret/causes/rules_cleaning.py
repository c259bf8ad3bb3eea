"""Rules of cleaning: what makes the cleaning fail, or the filters no longer let go of their cake.

``rule`` explains the weights.
"""

from monitor.interpret.causes.about import About
from monitor.interpret.causes.kinds import Kind
from monitor.interpret.causes.rule import Rule, Says, Source
from monitor.troubles import Trouble

_HIGH, _LOW, _BAD, _WARNING = About.HIGH, About.LOW, About.BAD_SIGNAL, About.WARNING

CLEANING_RULES: tuple[Rule, ...] = (
    Rule(
        Trouble.BLINDING,
        {_HIGH: 1, _WARNING: 1},
        (
            Says(Kind.RESIDUAL_RISING, 4, Source.EPA),
            Says(Kind.RESIDUAL_UP, 1, Source.CURVE),
            Says(Kind.CYCLES_OFTEN, 1, Source.CURVE),
            Says(Kind.CLEANING_WEAK, 1, Source.CURVE),
            Says(Kind.DIPS_USUAL, 1, Source.EPA),
            Says(Kind.HEADER_USUAL, 1, Source.EPA),
            Says(Kind.HEADER_LOW, -3, Source.COST),
            Says(Kind.NO_DIPS, -3, Source.PULSE),
            Says(Kind.RESIDUAL_STEADY, -3, Source.CURVE),
            Says(Kind.RESIDUAL_USUAL, -2, Source.CURVE),
            Says(Kind.STEP_UP, -2, Source.CURVE),
            Says(Kind.FLOW_UP, -2, Source.DRAG),
            Says(Kind.RISE_FAST, -1, Source.DRAG),
        ),
    ),
    Rule(
        Trouble.MOISTURE,
        {_HIGH: 0, _WARNING: 0},
        (
            Says(Kind.RESIDUAL_UP, 2, Source.EPA),
            Says(Kind.CLEANING_WITHOUT_EFFECT, 1, Source.EPA),
            Says(Kind.CLEANING_WEAK, 2, Source.EPA),
            Says(Kind.DIPS_USUAL, 2, Source.PULSE),
            Says(Kind.HEADER_USUAL, 1, Source.EPA),
            Says(Kind.RESIDUAL_STEADY, 1, Source.CURVE),
            Says(Kind.HEADER_LOW, -3, Source.COST),
            Says(Kind.NO_DIPS, -4, Source.PULSE),
            Says(Kind.RESIDUAL_RISING, -2, Source.CURVE),
            Says(Kind.CLEANING_WORKS, -3, Source.CURVE),
            Says(Kind.FLOW_UP, -2, Source.DRAG),
        ),
    ),
    Rule(
        Trouble.HEADER_PRESSURE_LOST,
        {_HIGH: 1, _WARNING: 1},
        (
            Says(Kind.HEADER_LOW, 5, Source.AIR),
            Says(Kind.HEADER_SLOW, 3, Source.AIR),
            Says(Kind.CLEANING_WITHOUT_EFFECT, 2, Source.COST),
            Says(Kind.CLEANING_WEAK, 1, Source.COST),
            Says(Kind.SAWTOOTH_GONE, 2, Source.CURVE),
            Says(Kind.CLEANING_ENDLESS, 1, Source.CURVE),
            Says(Kind.HEADER_USUAL, -4, Source.AIR),
            Says(Kind.CLEANING_WORKS, -3, Source.CURVE),
            Says(Kind.STEP_UP, -2, Source.CURVE),
            Says(Kind.FLOW_UP, -2, Source.DRAG),
        ),
    ),
    Rule(
        Trouble.VALVE_DEAD,
        {_HIGH: 0, _WARNING: 0},
        (
            Says(Kind.SOME_DIPS_MISSING, 5, Source.PULSE),
            Says(Kind.CYCLES_OFTEN, 1, Source.CURVE),
            Says(Kind.CLEANING_WEAK, 1, Source.CURVE),
            Says(Kind.DIPS_USUAL, -4, Source.PULSE),
            Says(Kind.NO_DIPS, -4, Source.PULSE),
            Says(Kind.HEADER_LOW, -2, Source.AIR),
        ),
    ),
    Rule(
        Trouble.PULSES_DEAD,
        {_HIGH: 1, _WARNING: 1},
        (
            Says(Kind.NO_DIPS, 5, Source.PULSE),
            Says(Kind.CLEANING_WITHOUT_EFFECT, 2, Source.CURVE),
            Says(Kind.SAWTOOTH_GONE, 2, Source.CURVE),
            Says(Kind.CLEANING_ENDLESS, 1, Source.CURVE),
            Says(Kind.HEADER_USUAL, 1, Source.AIR),
            Says(Kind.HEADER_LOW, -4, Source.AIR),
            Says(Kind.DIPS_USUAL, -5, Source.PULSE),
            Says(Kind.SOME_DIPS_MISSING, -3, Source.PULSE),
            Says(Kind.CLEANING_WORKS, -4, Source.CURVE),
            Says(Kind.STEP_UP, -2, Source.CURVE),
            Says(Kind.FLOW_UP, -2, Source.DRAG),
        ),
    ),
    Rule(
        Trouble.OVER_CLEANING,
        {_LOW: 0, _WARNING: 0},
        (
            Says(Kind.CLEANING_ENDLESS, 4, Source.CURVE),
            Says(Kind.CYCLES_OFTEN, 2, Source.CURVE),
            Says(Kind.RESIDUAL_DOWN, 1, Source.CURVE),
            Says(Kind.HEADER_SLOW, 1, Source.AIR),
            Says(Kind.DIPS_USUAL, 1, Source.PULSE),
            Says(Kind.FLOW_DOWN, -2, Source.DRAG),
            Says(Kind.STEP_DOWN, -3, Source.CURVE),
            Says(Kind.NO_DIPS, -3, Source.PULSE),
            Says(Kind.DP_NONE, -4, Source.DRAG),
            Says(Kind.DP_NEGATIVE, -4, Source.DRAG),
        ),
    ),
    Rule(
        Trouble.HOPPER_BRIDGED,
        {_HIGH: 0, _WARNING: 0},
        (
            Says(Kind.CLEANING_WITHOUT_EFFECT, 2, Source.EPA),
            Says(Kind.SAWTOOTH_GONE, 1, Source.EPA),
            Says(Kind.DIPS_USUAL, 2, Source.PULSE),
            Says(Kind.HEADER_USUAL, 1, Source.EPA),
            Says(Kind.RISE_FAST, 1, Source.EPA),
            Says(Kind.RESIDUAL_STEADY, 1, Source.CURVE),
            Says(Kind.HEADER_LOW, -3, Source.AIR),
            Says(Kind.NO_DIPS, -4, Source.PULSE),
            Says(Kind.CLEANING_WORKS, -2, Source.CURVE),
            Says(Kind.RESIDUAL_RISING, -2, Source.CURVE),
            Says(Kind.FLOW_UP, -2, Source.DRAG),
        ),
    ),
)
