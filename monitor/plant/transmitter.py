"""Transmitter: a pressure becomes a loop current, a count, and 16-bit words, with the faults of real loops.

A two-wire transmitter drives its current a little beyond the range and then holds it: measurement information
ends at 3.8 and 20.5 mA, failure information lies at 3.6 mA and below or 21.0 mA and above (NAMUR NE 43). An
input card turns the current into counts and ends where its converter ends.
"""

import struct
from dataclasses import dataclass

from monitor.condition.registers import Encoding, Order, RegisterFormat
from monitor.condition.scaling import LinearScaling, LoopScaling

#: What a sound transmitter can drive, mA (NAMUR NE 43, measurement information).
LOWEST_MA = 3.8
HIGHEST_MA = 20.5
#: What an open loop brings, mA.
OPEN_LOOP_MA = 0.0

_PACKED = {
    Encoding.INT16: "h",
    Encoding.UINT16: "H",
    Encoding.INT32: "i",
    Encoding.UINT32: "I",
    Encoding.FLOAT32: "f",
}
_LIMITS = {
    Encoding.INT16: (-32768, 32767),
    Encoding.UINT16: (0, 65535),
    Encoding.INT32: (-(2**31), 2**31 - 1),
    Encoding.UINT32: (0, 2**32 - 1),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DpSignal:
    """How one DP reaches the wire.

    Attributes:
        scaling: a 4–20 mA loop in raw counts, or engineering units straight from the device.
        lowest_counts: where the card's converter ends below; its upper end is in the loop's scaling.
    """

    format: RegisterFormat
    scaling: LoopScaling | LinearScaling
    lowest_counts: int = 0


def dp_words(signal: DpSignal, dp_inh2o: float, *, loop_broken: bool = False) -> tuple[int, ...]:
    """Return the register(s) a client reads for that DP."""
    if isinstance(signal.scaling, LoopScaling):
        current_ma = OPEN_LOOP_MA if loop_broken else current_of(signal.scaling, dp_inh2o)
        return words_of(signal.format, counts_of(signal.scaling, current_ma, signal.lowest_counts))
    # A device that computes says "not a number" when its sensor is gone; IEEE 754 has a word for it.
    value = float("nan") if loop_broken else dp_inh2o / signal.scaling.to_inside
    return words_of(signal.format, (value - signal.scaling.offset) / signal.scaling.scale)


def current_of(scaling: LoopScaling, value: float) -> float:
    """Return the current of a sound transmitter, mA, held at the ends of measurement information."""
    span = scaling.value_at_20_ma - scaling.value_at_4_ma
    current_ma = 4.0 + 16.0 * (value - scaling.value_at_4_ma) / span
    return min(max(current_ma, LOWEST_MA), HIGHEST_MA)


def counts_of(scaling: LoopScaling, current_ma: float, lowest_counts: int) -> int:
    """Return what the input card shows for a current, ending where its converter ends."""
    per_ma = (scaling.counts_at_20_ma - scaling.counts_at_4_ma) / 16.0
    counts = scaling.counts_at_4_ma + (current_ma - 4.0) * per_ma
    if scaling.full_scale_counts is not None:
        counts = min(counts, scaling.full_scale_counts)
    return round(max(counts, lowest_counts))


def words_of(form: RegisterFormat, value: float) -> tuple[int, ...]:
    """Return a number as 16-bit words in the order of that format; an integer ends at its own limits."""
    if form.encoding in _LIMITS:
        low, high = _LIMITS[form.encoding]
        packed = struct.pack(f">{_PACKED[form.encoding]}", min(max(round(value), low), high))
    else:
        packed = struct.pack(f">{_PACKED[form.encoding]}", value)
    byte_order = ">" if form.byte_order is Order.HIGH_FIRST else "<"
    words = struct.unpack(f"{byte_order}{len(packed) // 2}H", packed)
    return words if form.word_order is Order.HIGH_FIRST else words[::-1]
