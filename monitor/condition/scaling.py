"""Scaling: the number in the register becomes engineering units, by way of loop current where there is a loop."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LoopScaling:
    """Raw counts of a 4–20 mA loop.

    Attributes:
        counts_at_4_ma, counts_at_20_ma: what the converter shows at the two ends; must differ.
        value_at_4_ma, value_at_20_ma: the transmitter's range, in the inside unit of the point; either end
            may be the larger or negative, they must differ.
        full_scale_counts: the converter's last count, where it ends. A reading at or beyond it is saturated
            or failed high, never a measurement. None where the converter reaches beyond 21 mA.
    """

    counts_at_4_ma: float
    counts_at_20_ma: float
    value_at_4_ma: float
    value_at_20_ma: float
    full_scale_counts: float | None = None


@dataclass(frozen=True, slots=True)
class LinearScaling:
    """Already in engineering units: value = (raw × scale + offset) × to_inside.

    Attributes:
        to_inside: inside units in one of the unit the file names.
    """

    scale: float = 1.0
    offset: float = 0.0
    to_inside: float = 1.0
