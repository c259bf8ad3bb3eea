"""Line time: how long does a serial line need for what it is asked to carry?

Modbus over Serial Line V1.02 §2.5.1: an RTU character has 11 bits (8E1, or 8N2 where there is no parity);
frames are parted by at least 3.5 characters of silence, and by a fixed 1.75 ms above 19200 baud. What comes
out is the best the line itself can do; every device adds the time it takes to think (often 5 to 50 ms).
"""

from collections.abc import Iterable

from monitor.acquire.framing import REPLY_OVERHEAD, shape_of
from monitor.acquire.settings import LinkSettings, Parity, SerialPort
from monitor.words import Block

STANDARD_CHARACTER_BITS = 11
FIXED_ABOVE_BAUD = 19200
FIXED_T35_S = 0.001750

#: Unit, function, address (2), count (2) and CRC (2).
REQUEST_CHARACTERS = 8


def character_bits(port: SerialPort) -> int:
    """Return the bits of one character: start, data, parity if any, stop. The standard wants 11."""
    return 1 + port.data_bits + (port.parity is not Parity.NONE) + port.stop_bits


def character_s(port: SerialPort) -> float:
    """Return how long one character takes, seconds."""
    return character_bits(port) / port.baud


def t35_s(port: SerialPort) -> float:
    """Return the shortest silence between two frames, seconds."""
    return FIXED_T35_S if port.baud > FIXED_ABOVE_BAUD else 3.5 * character_s(port)


def exchange_s(port: SerialPort, data_bytes: int) -> float:
    """Return the time of one request and its reply of ``data_bytes`` (2 a register), both silences included."""
    characters = REQUEST_CHARACTERS + REPLY_OVERHEAD + data_bytes
    return characters * character_s(port) + 2 * t35_s(port)


def fastest_scan_s(link: LinkSettings, blocks: Iterable[Block]) -> float:
    """Return the shortest scan period the line can carry, seconds; 0 where the line is a network."""
    if not isinstance(link.where, SerialPort):
        return 0.0
    return sum(exchange_s(link.where, shape_of(block).data_bytes) for block in blocks)
