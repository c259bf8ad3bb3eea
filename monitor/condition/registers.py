"""Registers: 16-bit words as they came off the wire become one number.

The Modbus specification fixes the order of the two bytes inside a register and says nothing of how a 32-bit
value lies across two of them (Application Protocol V1.1b3 §4.2), so the word order is always stated.
"""

from dataclasses import dataclass
from enum import StrEnum


class Encoding(StrEnum):
    """What the register(s) hold."""

    INT16 = "int16"
    UINT16 = "uint16"
    INT32 = "int32"
    UINT32 = "uint32"
    FLOAT32 = "float32"

    @property
    def width(self) -> int:
        """How many registers one value takes."""
        return 1 if self in (Encoding.INT16, Encoding.UINT16) else 2


class Order(StrEnum):
    """Which part comes first: of two words, or of the two bytes in a word."""

    HIGH_FIRST = "high-first"
    LOW_FIRST = "low-first"


@dataclass(frozen=True, slots=True)
class RegisterFormat:
    """How to read a number from its register(s)."""

    encoding: Encoding
    word_order: Order = Order.HIGH_FIRST
    byte_order: Order = Order.HIGH_FIRST
