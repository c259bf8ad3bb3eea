"""Taps: what reaches a differential pressure instrument when a hose is off or a line is plugged.

The fan draws on the clean side: the dirty-side tap lies below the pressure of the room by the loss of the duct
before it, and the clean-side tap by that and the DP.
"""

import math

from monitor.plant.build import Fan
from monitor.plant.mishaps import Forces, Way


def dirty_static_inh2o(fan: Fan, forces: Forces, flow_cfm: float) -> float:
    """Return the static pressure at the dirty-side tap, 0 or below."""
    ratio = flow_cfm / fan.flow_cfm
    return -fan.duct_inh2o * forces.duct * fan.dirty_side_share * ratio * ratio


def past_hose(way: Way, dp_inh2o: float, dirty_inh2o: float) -> float:
    """Return what is felt with a hose off: the side that is off feels the room."""
    match way:
        case Way.DIRTY_SIDE:
            return dp_inh2o - dirty_inh2o
        case Way.CLEAN_SIDE:
            return dirty_inh2o
        case Way.BOTH_SIDES:
            return 0.0
        case _:
            return dp_inh2o


def lagging(before: float, now: float, gap_s: float, lag_s: float) -> float:
    """Return a value that follows with that time constant; behind a line that is shut (inf) it stays."""
    return now if lag_s <= 0.0 else before + (now - before) * (1.0 - math.exp(-gap_s / lag_s))
