"""Verdict: whether a fall of the DP was a cleaning.

A cleaning comes down in many small teeth, faster than the DP ever rises, from the usual peak to the usual
residual. A damper or a fan that slows down brings the DP down at once, from anywhere to anywhere. A load or a flow
that wanders brings it down slowly. Where samples come too rarely to see the shape, the levels alone decide.
"""

from enum import Enum, auto

from monitor.interpret.cycles.fall import Fall, residual
from monitor.interpret.cycles.level import Level
from monitor.interpret.cycles.usual import ENOUGH, Usual, levels, swing
from monitor.interpret.settings import CleaningMode, CleaningSettings

CLEAR_NOISES = 3.0  #: A fall must be so many times the noise of the level ...
FIRST_NOISES = 5.0  #: ... or that many, before it is known how far the DP falls usually.
CLEAR_SHARE = 0.45  #: ... and that share of the usual fall.
CLEAR_INH2O = 0.08  #: ... and that much.
STANDING_SHARE = 0.3  #: Below that share of the peak the fan is slowing down, not cleaning.
STEP_SHARE = 0.7  #: More of the fall than that within ten seconds: a step.
SHAPE_S = 12.0  #: Levels further apart than that do not show a shape.
QUICK_S = 12.0  #: A fall that short may as well be a damper.
QUICK_SHARE = 0.5  #: ... and so is one of less than that share of the usual time.
FASTER = 1.0  #: A cleaning is so many times faster than the rise, or more.
FLOW_UNREST = 0.05  #: A flow that differs by less from one look to the next has not changed.
FLOW_POWER: float = 1.3  #: DP goes with the flow to a power between 1 (cloth) and 2 (ducts).


class Verdict(Enum):
    """What a fall was."""

    CLEANING = auto()
    NOTHING = auto()
    UNUSUAL = auto()


class Shape(Enum):
    """How it came down."""

    TEETH = auto()
    QUICK = auto()
    SLOW = auto()
    UNSEEN = auto()


def suspicious(settings: CleaningSettings, usual: Usual, level: Level) -> float:
    """The fall from the crest that is worth looking into, inH2O."""
    return max(3.0 * level.noise, 0.4 * swing(settings, usual))


def judge(settings: CleaningSettings, usual: Usual, level: Level, fall: Fall, rise: float) -> Verdict:
    """Say what it was; ``rise``: of the filtration before, inH2O/s."""
    after = residual(fall, level.rise)
    pulled = _expected(fall) - after
    noises = FIRST_NOISES if levels(settings, usual) is None else CLEAR_NOISES
    least = max(CLEAR_INH2O, noises * level.noise, CLEAR_SHARE * swing(settings, usual))
    if pulled < least or after < STANDING_SHARE * fall.peak:
        return Verdict.NOTHING
    shape = _shape(fall, pulled, rise)
    known = None if settings.mode is CleaningMode.TIMED else levels(settings, usual)
    if known is None:
        return _by_shape(shape, usual)
    room = max(3.0 * level.noise, 0.25 * swing(settings, usual), 0.08)
    high, low = fall.peak >= known[0] - room, abs(after - known[1]) <= 1.5 * room
    return _weigh(shape, usual, fall, high=high, low=low)


def _expected(fall: Fall) -> float:
    """The DP to which the peak would have come by the change of the flow alone."""
    if not fall.begin_flow or fall.trough_flow is None or fall.begin_flow < 0.0:
        return fall.peak
    ratio = fall.trough_flow / fall.begin_flow
    return fall.peak if abs(ratio - 1.0) < FLOW_UNREST else fall.peak * max(0.0, min(2.0, ratio)) ** FLOW_POWER


def _shape(fall: Fall, pulled: float, rise: float) -> Shape:
    """How it came down."""
    fall_s = fall.trough_s - fall.begin_s
    if pulled < FASTER * rise * fall_s or fall_s > 1800.0:
        return Shape.SLOW
    if fall.gap_s > SHAPE_S:
        return Shape.UNSEEN
    return Shape.QUICK if fall_s < QUICK_S or fall.step > STEP_SHARE * pulled else Shape.TEETH


def _by_shape(shape: Shape, usual: Usual) -> Verdict:
    """Where nobody knows the levels: a single step is not believed before it has come again and again."""
    if shape is Shape.SLOW:
        return Verdict.NOTHING
    return Verdict.UNUSUAL if shape is Shape.QUICK and usual.refused < ENOUGH else Verdict.CLEANING


def _weigh(shape: Shape, usual: Usual, fall: Fall, *, high: bool, low: bool) -> Verdict:
    """Put shape and levels together."""
    if high and low:
        return Verdict.CLEANING
    quick = usual.is_known and fall.trough_s - fall.begin_s < QUICK_SHARE * usual.length_s
    if shape is Shape.TEETH and (high or low) and not quick:
        return Verdict.CLEANING
    if shape is Shape.SLOW:
        return Verdict.NOTHING
    return Verdict.UNUSUAL
