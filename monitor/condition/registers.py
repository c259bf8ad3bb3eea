"""Registers: 16-bit words as they came off the wire become one number, and back.

The Modbus specification fixes the order of the two bytes inside a register and says nothing of how a 32-bit
value lies across two of them (Application Protocol V1.1b3 §4.2), so the word order is always stated.
"""

import struct
from collections.abc import Sequence
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


_TWO_WORDS = struct.Struct(">HH")
_UINT32 = struct.Struct(">I")
_INT32 = struct.Struct(">i")
_FLOAT32 = struct.Struct(">f")

_STRUCT_OF_TWO = {Encoding.INT32: _INT32, Encoding.UINT32: _UINT32, Encoding.FLOAT32: _FLOAT32}
_RANGE = {
    Encoding.INT16: (-0x8000, 0x7FFF),
    Encoding.UINT16: (0, 0xFFFF),
    Encoding.INT32: (-0x8000_0000, 0x7FFF_FFFF),
    Encoding.UINT32: (0, 0xFFFF_FFFF),
}


def decode(words: Sequence[int], fmt: RegisterFormat) -> float | int:
    """Read one number from its word(s), in the order they came off the wire.

    Args:
        words: one or two words, each 0 to 65535 (not checked: the wire cannot carry others).
        fmt: what they hold.

    Returns:
        An int for the integer encodings, a float for float32; its NaN and infinities pass through.

    Raises:
        ValueError: not as many words as the encoding takes.
    """
    encoding = fmt.encoding
    if encoding is not Encoding.UINT16 and encoding is not Encoding.INT16:
        return _decode_two(words, fmt)
    if len(words) != 1:
        raise ValueError(_wrong_length(words, fmt))
    word = words[0]
    if fmt.byte_order is Order.LOW_FIRST:
        word = _swapped(word)
    return word if encoding is Encoding.UINT16 or word < 0x8000 else word - 0x10000


def encode(value: float, fmt: RegisterFormat) -> tuple[int, ...]:
    """Lay one number into its word(s): the inverse of ``decode``.

    Integer encodings take the nearest whole number, as a converter shows the nearest count.

    Raises:
        ValueError: the encoding cannot hold the value (out of range, or a NaN in an integer).
    """
    if fmt.encoding is Encoding.FLOAT32:
        packed = _pack_float(value)
    else:
        packed = _whole(value, fmt.encoding).to_bytes(fmt.encoding.width * 2, "big")
    words = [int.from_bytes(packed[at : at + 2], "big") for at in range(0, len(packed), 2)]
    if fmt.byte_order is Order.LOW_FIRST:
        words = [_swapped(word) for word in words]
    return tuple(reversed(words) if fmt.word_order is Order.LOW_FIRST else words)


def _decode_two(words: Sequence[int], fmt: RegisterFormat) -> float | int:
    if len(words) != 2:
        raise ValueError(_wrong_length(words, fmt))
    high, low = words if fmt.word_order is Order.HIGH_FIRST else (words[1], words[0])
    if fmt.byte_order is Order.LOW_FIRST:
        high, low = _swapped(high), _swapped(low)
    number: float | int = _STRUCT_OF_TWO[fmt.encoding].unpack(_TWO_WORDS.pack(high, low))[0]
    return number


def _swapped(word: int) -> int:
    return (word & 0xFF) << 8 | word >> 8


def _pack_float(value: float) -> bytes:
    try:
        return _FLOAT32.pack(value)
    except OverflowError:
        raise ValueError(f"float32 reaches to 3.4028235e38 either way (got {value!r})") from None


def _whole(value: float, encoding: Encoding) -> int:
    """The nearest whole number in two's complement, at or above 0."""
    low, high = _RANGE[encoding]
    # "not inside", so that a NaN, which compares false to everything, is refused too.
    if not low - 0.5 <= value < high + 0.5:
        raise ValueError(f"{encoding} holds {low} to {high} (got {value!r})")
    return round(value) & (0xFFFF if encoding.width == 1 else 0xFFFF_FFFF)


def _wrong_length(words: Sequence[int], fmt: RegisterFormat) -> str:
    return f"{fmt.encoding} takes {fmt.encoding.width} register(s) (got {len(words)})"
