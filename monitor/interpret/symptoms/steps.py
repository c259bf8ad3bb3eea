"""Steps: sudden changes of the DP that no cleaning explains.

The minutes before and after are carried forward on their own slope, so that neither the growing cake nor a slow
swing of the dust load looks like a step. While it is cleaned, or where only the DP itself says that it is, a fall
is a step only if it comes at once (a cleaning takes several pulses) and ends below where cleaning ever ends.
"""

import math
from statistics import median
from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.symptoms.minutes import Minute

#: A step is larger than each of these; our choice: inH2O, share of the DP before, multiples of the noise.
LEAST_INH2O = 0.3
LEAST_SHARE = 0.08
LEAST_NOISES = 3.0
#: A fall in the midst of cleaning ends so far below the usual residual DP, inH2O and share; our choice.
BELOW_INH2O = 0.25
BELOW_SHARE = 0.08
#: And so much of it comes within two parcels.
SHARP_SHARE = 0.5
#: A step is told for so long.
TOLD_S = 900.0
#: A fall is believed when it has stayed for so long; our choice.
STAYS_S = 600.0
#: Of a fall, so much may come back by itself while it is watched; with the flow it must be this much of a fall.
BACK_SHARE = 0.5


class Fall(NamedTuple):
    """A fall without cleaning.

    Attributes:
        at_s: when; ``before_inh2o`` and ``after_inh2o`` the DP on both sides.
        rise_inh2o_min: how fast the DP rose before.
        stays: whether it has stayed long enough to be believed.
    """

    at_s: float
    before_inh2o: float
    after_inh2o: float
    rise_inh2o_min: float
    stays: bool = False


class Steps(NamedTuple):
    """The newest large step, and a fall that is watched or believed."""

    step_inh2o: float = 0.0
    at_s: float | None = None
    fall: Fall | None = None


BEGIN = Steps()


def advance(state: Steps, trail: tuple[Minute, ...], floor_inh2o: float | None) -> Steps:
    """Look at the newest minutes. ``floor_inh2o``: the usual residual DP."""
    state = _watched(state, trail[-1])
    if len(trail) < 7:
        return state
    step, slope = _step(trail)
    now_s, at_s = trail[-1].end_s, trail[-4].end_s - 30.0
    if state.at_s is not None and now_s - state.at_s > TOLD_S:
        state = state._replace(step_inh2o=0.0, at_s=None)
    if not _is_step(step, trail) or _explained(step, trail, floor_inh2o):
        return state
    if abs(step) > abs(state.step_inh2o):
        state = state._replace(step_inh2o=step, at_s=at_s)
    fall = state.fall
    if step > 0.0:
        undone = fall is not None and step >= 0.7 * (fall.before_inh2o - fall.after_inh2o)
        return state._replace(fall=None) if undone else state
    if (fall is not None and fall.stays) or _by_flow(trail):
        return state
    before, after = trail[-5].dp_inh2o, trail[-3].dp_inh2o
    return state._replace(fall=Fall(at_s, before, after, max(slope, 0.0)))


def _step(trail: tuple[Minute, ...]) -> tuple[float, float]:
    b0, b2, a0, a2 = (trail[i].dp_inh2o for i in (-7, -5, -3, -1))
    slope = ((b2 - b0) + (a2 - a0)) / 4.0
    return a0 - b2 - 2.0 * slope, slope


def _is_step(step: float, trail: tuple[Minute, ...]) -> bool:
    size, before = abs(step), abs(trail[-5].dp_inh2o)
    if size < LEAST_INH2O or size < LEAST_SHARE * before:
        return False
    noise = math.sqrt(median(m.variance for m in trail[-7:]))
    return size >= LEAST_NOISES * noise


def _explained(step: float, trail: tuple[Minute, ...], floor: float | None) -> bool:
    """Whether cleaning explains it."""
    seven = trail[-7:]
    if not any(m.cleaned for m in seven):
        return False
    if step > 0.0:
        return not all(m.cleaned >= 0.99 for m in seven)  # cleaning does not raise the DP, but its end bends it
    if floor is None:
        return True
    after = median(m.dp_inh2o for m in seven[-3:])
    sharp = max(m.sharp_inh2o for m in seven[-5:-2])
    return after > floor - max(BELOW_INH2O, BELOW_SHARE * floor) or sharp < SHARP_SHARE * -step


def _by_flow(trail: tuple[Minute, ...]) -> bool:
    """Whether the air flow fell with it: then the drag, DP by flow, did not fall nearly as much."""
    before, after = trail[-5], trail[-3]
    if before.flow_cfm is None or after.flow_cfm is None or before.flow_cfm <= 0.0 or after.flow_cfm <= 0.0:
        return False
    drag_before, drag_after = before.dp_inh2o / before.flow_cfm, after.dp_inh2o / after.flow_cfm
    fallen = 1.0 - after.dp_inh2o / before.dp_inh2o if before.dp_inh2o > 0.0 else 0.0
    return drag_before > 0.0 and 1.0 - drag_after / drag_before < BACK_SHARE * fallen


def _watched(state: Steps, minute: Minute) -> Steps:
    """Watch whether a fall stays."""
    fall = state.fall
    if fall is None or fall.stays:
        return state
    age_s = minute.end_s - fall.at_s
    expected = fall.after_inh2o + fall.rise_inh2o_min * age_s / 60.0
    if minute.dp_inh2o - expected > BACK_SHARE * (fall.before_inh2o - fall.after_inh2o):
        return state._replace(fall=None)
    return state._replace(fall=fall._replace(stays=True)) if age_s >= STAYS_S else state


def cycle_came(state: Steps, cycle: Cycle, floor_inh2o: float | None) -> Steps:
    """A cleaning came to light afterwards: it may explain what looked like a step."""
    deep = floor_inh2o is not None and cycle.residual_inh2o < floor_inh2o - max(
        BELOW_INH2O, BELOW_SHARE * floor_inh2o
    )
    begin_s, end_s = cycle.begin_s - 60.0, cycle.end_s + 60.0
    if deep and not cycle.signalled:
        return state
    if state.at_s is not None and begin_s <= state.at_s <= end_s:
        state = state._replace(step_inh2o=0.0, at_s=None)
    fall = state.fall
    if fall is not None and not fall.stays and begin_s <= fall.at_s <= end_s:
        state = state._replace(fall=None)
    return state


def broken(state: Steps, *, repaired: bool) -> Steps:
    """The fan stopped, or something was not seen. ``repaired``: somebody may have mended it meanwhile."""
    fall = state.fall
    keep = fall is not None and fall.stays and not repaired
    return Steps(0.0, None, fall if keep else None)
