"""Rule: what speaks for and against one trouble, how strongly, and who says so.

A weight counts doublings of the odds: +1 makes the trouble twice as likely as before, +2 four times, -1 half as
likely. 1 is a hint, 2 fair, 3 strong, 5 all but proves it. The weights are our choice, made from the mechanism;
the sources are those of the mechanism. Of the clues of one aspect (see ``kinds``) only the strongest for and the
strongest against count.
"""

from collections.abc import Mapping
from enum import StrEnum
from typing import NamedTuple

from monitor.interpret.causes.about import About
from monitor.interpret.causes.kinds import Kind
from monitor.troubles import Trouble

#: Weight of "something else, or the evidence does not tell", against which every trouble must hold its own.
CANNOT_TELL = 2.0


class Source(StrEnum):
    """Who says that a clue speaks for or against a trouble."""

    DRAG = "derived from ΔP = S·V"
    CURVE = "derived from the sawtooth of a cleaned filter"
    PULSE = "derived: every pulse is a test signal for header, valves and taps"
    EPA = "EPA manuals' operation and maintenance lists, from memory"
    COST = "EPA/452/B-02-001 Section 6 Chapter 1: residual drag falls with pulse pressure"
    AIR = "40 CFR 63.1547(c): compressed-air supply and cleaning cycles are checked"
    LEAK = "40 CFR 63.7331 and like subparts watch torn bags by their dust; the DP derived from ΔP = S·V"
    COLLAPSE = "US 5,680,109 (expired): plain variance collapse"
    NE43 = "NAMUR NE 43"
    PRACTICE = "common practice, no source"


class Says(NamedTuple):
    """What one clue says of one trouble: for it above 0, against it below."""

    kind: Kind
    weight: float
    source: Source


class Rule(NamedTuple):
    """One trouble.

    Attributes:
        opening: weight with which it comes into question at all, by what calls; where nothing stands it does not.
    """

    trouble: Trouble
    opening: Mapping[About, float]
    says: tuple[Says, ...]
