"""Airway: how much air the fan drives through duct and cloth."""

import math

from monitor.plant.build import Fan


def flow_cfm(fan: Fan, turns: float, duct: float, conductance: float) -> float:
    """Return the flow at which the fan's pressure is used up by duct and cloth.

    The fan's curve falls with the square of the flow, and keeps its shape at other speeds (fan laws); the duct's
    loss rises with the square, the cloth's in proportion.

    Args:
        fan: with the duct it was chosen for.
        turns: speed of the fan, 1 is its usual.
        duct: resistance of the duct, 1 is its usual.
        conductance: of cloth and tears, cfm per inH2O.
    """
    droop = fan.shut_off_inh2o - fan.design_dp_inh2o - fan.duct_inh2o
    square = (droop + fan.duct_inh2o * duct) / fan.flow_cfm**2
    head = turns * turns * fan.shut_off_inh2o + fan.draught_inh2o
    linear = 1.0 / conductance
    # square·Q² + linear·Q = head, solved in the form that keeps its digits when square is small.
    return 2.0 * head / (linear + math.sqrt(linear * linear + 4.0 * square * head))
