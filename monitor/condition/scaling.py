"""Scaling: the number in the register becomes engineering units, by way of loop current where there is a loop.

Everything goes through the fraction of the measuring range, so that both ends of the range come out exact.
Negative, reversed and compound ranges need no case of their own.
"""

from dataclasses import dataclass
from math import inf

#: The live zero and the end of the standard current loop (IEC 60381-1).
ZERO_MA = 4.0
SPAN_MA = 16.0


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


Scaling = LoopScaling | LinearScaling


def to_current_ma(scaling: LoopScaling, counts: float) -> float:
    """The loop current that the converter shows as these counts, mA; not limited to the loop's range."""
    zero = scaling.counts_at_4_ma
    return ZERO_MA + SPAN_MA * ((counts - zero) / (scaling.counts_at_20_ma - zero))


def to_value(scaling: Scaling, raw: float) -> float:
    """The number in the register in inside units; a NaN or an infinity stays one."""
    if isinstance(scaling, LinearScaling):
        return (raw * scaling.scale + scaling.offset) * scaling.to_inside
    zero = scaling.counts_at_4_ma
    low = scaling.value_at_4_ma
    fraction = (raw - zero) / (scaling.counts_at_20_ma - zero)
    return low + fraction * (scaling.value_at_20_ma - low)


def to_raw(scaling: Scaling, value: float) -> float:
    """The number that stands for this value: the inverse of ``to_value``, neither rounded nor limited.

    Raises:
        ZeroDivisionError: the scaling gives every number the same value, so it has no inverse.
    """
    if isinstance(scaling, LinearScaling):
        return (value / scaling.to_inside - scaling.offset) / scaling.scale
    low = scaling.value_at_4_ma
    fraction = (value - low) / (scaling.value_at_20_ma - low)
    return scaling.counts_at_4_ma + fraction * (scaling.counts_at_20_ma - scaling.counts_at_4_ma)


def counts_at_current(scaling: LoopScaling, current_ma: float) -> float:
    """What the converter would show at this loop current, neither rounded nor ended at full scale."""
    fraction = (current_ma - ZERO_MA) / SPAN_MA
    return scaling.counts_at_4_ma + fraction * (scaling.counts_at_20_ma - scaling.counts_at_4_ma)


def converter_end_ma(scaling: LoopScaling) -> float:
    """The largest current the converter can show, mA; infinite where no full scale is stated.

    In terms of current the end always lies upwards, whichever way the counts run. It is worked out as every
    reading is, so the last count compares equal to it and no rounding lets a full scale pass as a measurement.
    """
    end = scaling.full_scale_counts
    return inf if end is None else to_current_ma(scaling, end)
