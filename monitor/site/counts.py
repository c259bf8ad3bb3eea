"""Counts: what a register can show, and where an analog converter ends."""

from monitor.condition.registers import Encoding

#: The least and the largest count of each encoding; a float32 has no last count.
RANGE = {
    Encoding.INT16: (-0x8000, 0x7FFF),
    Encoding.UINT16: (0, 0xFFFF),
    Encoding.INT32: (-0x8000_0000, 0x7FFF_FFFF),
    Encoding.UINT32: (0, 0xFFFF_FFFF),
}

#: Last counts of converters of 10, 12, 14, 15 and 16 bits (arithmetic: 2^n - 1).
LAST_COUNTS = frozenset({1023, 4095, 16383, 32767, 65535})


def is_shown_by(encoding: Encoding, counts: float) -> bool:
    """Whether a register can come as far as these counts."""
    low, high = RANGE.get(encoding, (float("-inf"), float("inf")))
    return low <= counts <= high


def inferred_full_scale(encoding: Encoding, at_4_ma: float, at_20_ma: float) -> float | None:
    """Return the last count, where the counts at 20 mA leave the converter nothing above them.

    A 12-bit converter for 0–20 mA shows 4095 at 20 mA and at everything beyond: a full scale read there may
    as well be a transmitter that has failed high.
    """
    low, high = RANGE.get(encoding, (float("-inf"), float("inf")))
    is_last = at_20_ma >= high or at_20_ma in LAST_COUNTS if at_20_ma > at_4_ma else at_20_ma <= low
    return at_20_ma if is_last else None
