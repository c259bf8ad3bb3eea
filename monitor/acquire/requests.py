"""Requests: what is asked of a unit, made ready once, and what came of it."""

import struct
from dataclasses import dataclass
from typing import NamedTuple

from pymodbus.framer import FramerRTU, FramerSocket
from pymodbus.pdu import DecodePDU, ModbusPDU
from pymodbus.pdu.bit_message import ReadCoilsRequest, ReadDiscreteInputsRequest
from pymodbus.pdu.register_message import ReadHoldingRegistersRequest, ReadInputRegistersRequest

from monitor.acquire.framing import Shape, shape_of
from monitor.words import Block, Failure, Table

_REQUEST_OF_TABLE: dict[Table, type[ModbusPDU]] = {
    Table.COIL: ReadCoilsRequest,
    Table.DISCRETE_INPUT: ReadDiscreteInputsRequest,
    Table.HOLDING_REGISTER: ReadHoldingRegistersRequest,
    Table.INPUT_REGISTER: ReadInputRegistersRequest,
}
_RTU, _MBAP = FramerRTU(DecodePDU(is_server=False)), FramerSocket(DecodePDU(is_server=False))


@dataclass(frozen=True, slots=True)
class Request:
    """A block made ready to be asked again and again.

    Attributes:
        rtu: the whole frame for a serial line, CRC included.
        mbap: the frame for Modbus TCP without its first two bytes, the transaction identifier.
    """

    block: Block
    shape: Shape
    rtu: bytes
    mbap: bytes


def request_for(block: Block) -> Request:
    """Make a block ready to be asked."""
    pdu = _REQUEST_OF_TABLE[block.table](dev_id=block.unit_id, address=block.address, count=block.count)
    return Request(block, shape_of(block), _RTU.buildFrame(pdu), _MBAP.buildFrame(pdu)[2:])


class Reply(NamedTuple):
    """What came of a request. ``answered``: the unit or its gateway said something well-formed."""

    words: tuple[int, ...] = ()
    failure: Failure | None = None
    answered: bool = True
    function: int = 0


def words_of(data: bytes, block: Block) -> tuple[int, ...]:
    """Return registers, high byte first (§4.2), or bits, lowest first (§6.1), as the data bytes hold them."""
    if block.table.is_bit:
        return tuple(data[i >> 3] >> (i & 7) & 1 for i in range(block.count))
    return struct.unpack(f">{block.count}H", data)
