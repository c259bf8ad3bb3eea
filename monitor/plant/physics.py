"""Physics: how much pressure does air lose through dusty cloth?

The relations are those of the EPA Air Pollution Control Cost Manual, EPA/452/B-02-001, Section 6, Chapter 1
(pulse-jet filters). The manual warns that the pulse-jet residual term is a regression on few laboratory data
and not meant for design; for a plant that only has to look right it is the best open source there is.

Units are the manual's own: feet per minute, square feet, pounds of dust, psig, inches of water, minutes.
"""

import math

#: Pound of dust in grains; dust loads are quoted in grains per cubic foot.
GRAINS_PER_LB = 7000.0


def gas_to_cloth_ft_min(
    *, material: float, application: float, temperature_degf: float, load_gr_ft3: float, diameter_um: float
) -> float:
    """Return the recommended filtration velocity (gas-to-cloth ratio) of a pulse-jet collector, ft/min.

    Args:
        material: factor A of the manual's table (fly ash 9.0).
        application: factor B of the manual's table (0.8 for fly ash in a boiler).
        temperature_degf: 50 to 275.
        load_gr_ft3: dust at the inlet, 0.05 to 100.
        diameter_um: mass mean particle diameter, 3 to 100.
    """
    warmth = math.pow(temperature_degf, -0.2335)
    load = math.pow(load_gr_ft3, -0.06021)
    size = 0.7471 + 0.0853 * math.log(diameter_um)
    return 2.878 * material * application * warmth * load * size


def residual_drag(pulse_psig: float) -> float:
    """Return what cleaned cloth resists, inH2O per ft/min, after pulses of that pressure (above 0 psig)."""
    return 6.08 * math.pow(pulse_psig, -0.65)


def drag(residual: float, k2: float, dust_lb_ft2: float) -> float:
    """Return filter drag S = Se + K2·W, inH2O per ft/min."""
    return residual + k2 * dust_lb_ft2


def areal_dust_lb_ft2(dust_lb_ft3: float, velocity_ft_min: float, minutes: float) -> float:
    """Return the dust that so many minutes of filtering lay on each square foot: W = Ci·V·θ."""
    return dust_lb_ft3 * velocity_ft_min * minutes


def slope_inh2o_min(*, k2: float, dust_lb_ft3: float, velocity_ft_min: float) -> float:
    """Return how fast the DP climbs between two cleanings: K2·Ci·V², inH2O per minute."""
    return k2 * dust_lb_ft3 * velocity_ft_min**2


def pulse_jet_dp_inh2o(
    *, velocity_ft_min: float, pulse_psig: float, k2: float, dust_lb_ft3: float, minutes: float
) -> float:
    """Return the DP that many minutes after cleaning: ΔP = 6.08·V·Pj^-0.65 + K2·Ci·V²·θ."""
    climbed = slope_inh2o_min(k2=k2, dust_lb_ft3=dust_lb_ft3, velocity_ft_min=velocity_ft_min) * minutes
    return residual_drag(pulse_psig) * velocity_ft_min + climbed


def minutes_between_inh2o(
    low_inh2o: float, high_inh2o: float, *, k2: float, dust_lb_ft3: float, velocity_ft_min: float
) -> float:
    """Return how long the DP takes from low to high while nothing is cleaned (closed form of the linear model)."""
    slope = slope_inh2o_min(k2=k2, dust_lb_ft3=dust_lb_ft3, velocity_ft_min=velocity_ft_min)
    return (high_inh2o - low_inh2o) / slope
