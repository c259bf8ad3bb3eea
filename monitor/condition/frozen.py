"""Frozen: has a number stopped moving that, while the fan runs, never stands still?

A live DP moves in its last digit all the time: turbulence, dust, cleaning. A raw number that is exactly the
same for minutes comes from a gateway repeating an old value, a transmitter on hold, or plugged taps.
"""

from dataclasses import dataclass

#: A stopped fan reads near zero and may stand still there: within 2 % of the measuring range, or within 0.1
#: inside units where the range is not known (common practice, no source).
NEAR_ZERO_OF_SPAN = 0.02
NEAR_ZERO_WITHOUT_SPAN = 0.1


@dataclass(frozen=True, slots=True)
class StillState:
    """How long a raw number has stood still.

    Attributes:
        raw: the number.
        since_s: from when its standing still counts, scan clock.
        unseen_from_s: since when nothing was read; None while reading goes well.
    """

    raw: float
    since_s: float
    unseen_from_s: float | None = None


def advance(state: StillState | None, raw: float, at_s: float, *, may_stand: bool) -> StillState:
    """Take one more raw number; ``may_stand`` is whether standing still would mean nothing now.

    Time in which nothing was read does not count, for nobody saw that the number stood; what was counted
    before is kept, for an equal number afterwards is no sign of life.
    """
    if state is None or raw != state.raw or may_stand:
        return StillState(raw, at_s)
    if state.unseen_from_s is not None:
        return StillState(raw, state.since_s + max(0.0, at_s - state.unseen_from_s))
    return state


def lose_sight(state: StillState | None, at_s: float) -> StillState | None:
    """Stop the count because nothing could be read; only the first failure in a row stops it."""
    if state is None or state.unseen_from_s is not None:
        return state
    return StillState(state.raw, state.since_s, at_s)


def may_stand_still(value: float, fan_running: bool | None, span: float | None) -> bool:
    """Whether standing still means nothing: the fan is stopped, or unknown and the value near zero.

    With the fan unknown a stopped fan reads the same as a stuck transmitter near zero, and only there.
    """
    if fan_running is not None:
        return not fan_running
    limit = NEAR_ZERO_WITHOUT_SPAN if span is None else NEAR_ZERO_OF_SPAN * abs(span)
    return abs(value) <= limit
