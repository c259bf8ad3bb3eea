"""Framing: is what just came in the answer to what was asked?

A Modbus answer does not say which address it belongs to. All that tells one answer from another is its
*shape*: the function and the number of data bytes, beside the unit and, on Modbus TCP alone, the transaction
identifier. (A write of one entry is answered by its own request: that answer has to be the same to the byte, and
is never one to a read.) So bytes are judged here, and the protocol library never sees them. (It would take any
count, any function, transaction 0, and, on an RTU line, a late answer.)

Pure: bytes in, verdict out. Modbus Messaging on TCP/IP V1.0b §3.1.3; Modbus over Serial Line V1.02 §2.5.1, §6.2.2.
"""

from collections.abc import Collection
from struct import Struct
from typing import NamedTuple

from monitor.words import Block, Table

FUNCTION_OF_TABLE = {
    Table.COIL: 0x01,
    Table.DISCRETE_INPUT: 0x02,
    Table.HOLDING_REGISTER: 0x03,
    Table.INPUT_REGISTER: 0x04,
}
#: Answered by the request itself: what was written, and where.
ECHOED_FUNCTIONS = (0x05, 0x06)
EXCEPTION_BIT = 0x80
#: RTU: unit, function, byte count or exception code, and CRC (2).
REPLY_OVERHEAD = 5
#: RTU: unit, function, address (2), count (2) and CRC (2).
REQUEST_LENGTH = 8


class Shape(NamedTuple):
    """What an answer looks like from outside.

    Attributes:
        echo: of a write alone, the whole PDU, which the answer repeats; empty for a read.
    """

    function: int
    data_bytes: int
    echo: bytes = b""

    def __str__(self) -> str:
        return f"function {self.function:02X} with {self.data_bytes} bytes"


class Malformed(NamedTuple):
    """An answer that is none. ``in_step``: the frame was whole, and the next one can be found behind it."""

    detail: str
    in_step: bool


#: A whole fitting frame, or what is wrong, or None: wait for more.
Sighting = bytes | Malformed | None


def shape_of(block: Block) -> Shape:
    """Return the shape of the only right answer to a block."""
    size = (block.count + 7) // 8 if block.table.is_bit else 2 * block.count
    return Shape(FUNCTION_OF_TABLE[block.table], size)


_MBAP_HEAD = Struct(">HHHBBB")
#: Unit, function and one byte; unit and the longest PDU (253).
_SHORTEST_MBAP, _LONGEST_MBAP = 3, 254


class MbapStream:
    """Modbus TCP: a stream of frames that say their own length and whose answer they are."""

    __slots__ = ("_buffer", "_owing", "_shape", "_unit_id")

    #: Where the function code stands in a frame.
    pdu_at = 7

    def __init__(self) -> None:
        self._buffer = b""
        self._unit_id = 0
        self._shape: Shape | None = None
        self._owing = False

    @property
    def clean(self) -> bool:
        """Whether the stream stands between two frames."""
        return not self._buffer

    @property
    def unfit(self) -> bool:
        """As ``RtuLine``; here what is no frame is told at once, and half of one is no answer yet."""
        return False

    def expect(self, unit_id: int, shape: Shape, owed: Collection[Shape] = ()) -> None:  # noqa: ARG002 - as RtuLine
        """Say what was asked; late answers are known by their transaction identifier."""
        self._unit_id = unit_id
        self._shape = shape

    def rest(self, *, unanswered: bool) -> None:
        """Nothing is asked any more; ``unanswered``: its answer may yet come."""
        self._shape = None
        self._owing = self._owing or unanswered

    def feed(self, data: bytes, transaction: int) -> Sighting:
        """Take in bytes; answers to earlier transactions are dropped."""
        self._buffer += data
        while len(self._buffer) >= _MBAP_HEAD.size:
            head = _MBAP_HEAD.unpack_from(self._buffer)
            theirs, protocol, length = head[:3]
            if protocol or not _SHORTEST_MBAP <= length <= _LONGEST_MBAP:
                self._buffer = b""
                return Malformed("not a Modbus TCP frame", in_step=False)
            end = 6 + length
            if len(self._buffer) < end:
                return None
            frame, self._buffer = self._buffer[:end], self._buffer[end:]
            if self._shape is not None and theirs in (transaction, 0):
                return self._judge(frame, self._shape, head)
        return None

    def _judge(self, frame: bytes, asked: Shape, head: tuple[int, ...]) -> Sighting:
        theirs, _, _, unit_id, function, size = head
        if theirs == 0 and self._owing:
            # Some gateways answer with transaction 0. That is as good as none: with an answer still owed
            # on this connection, nobody can tell which of the two this is.
            return Malformed("transaction 0 while an earlier answer is owed", in_step=False)
        if unit_id != self._unit_id:
            return Malformed(f"answer of unit {unit_id}, asked unit {self._unit_id}", in_step=True)
        if function == asked.function | EXCEPTION_BIT and len(frame) == _MBAP_HEAD.size:
            return frame
        if asked.echo:
            return frame if frame[self.pdu_at :] == asked.echo else Malformed(_OTHER_WRITE, in_step=True)
        if function == asked.function and size == asked.data_bytes and len(frame) == _MBAP_HEAD.size + size:
            return frame
        return Malformed(_misfit(Shape(function, size), asked), in_step=True)


class RtuLine:
    """RTU framing: no length, no transaction; a CRC, the unit, and the shape are all there is."""

    __slots__ = ("_buffer", "_echoes", "_owed", "_own_echo_due", "_shape", "_unit_id")

    pdu_at = 1

    def __init__(self) -> None:
        self._buffer = b""
        self._unit_id = 0
        self._shape: Shape | None = None
        self._owed: Collection[Shape] = ()
        # An adapter that sends our own requests back would answer a write in its device's place.
        self._echoes = self._own_echo_due = False

    @property
    def clean(self) -> bool:
        """Whether nothing stands half received."""
        return not self._buffer

    @property
    def unfit(self) -> bool:
        """Whether something came that is no answer: other than our own echo and what this unit owed."""
        at = 0
        while at < len(self._buffer):
            frame = self._frame_at(at) if at + REPLY_OVERHEAD <= len(self._buffer) else None
            if frame is not None and frame[0] == self._unit_id:
                at += len(frame)
            elif self._echo_at(at):
                at += REQUEST_LENGTH
            else:
                return True
        return False

    def _echo_at(self, at: int) -> bool:
        """Whether our request comes back here, as some two-wire adapters have it."""
        frame = self._buffer[at : at + REQUEST_LENGTH]
        return len(frame) == REQUEST_LENGTH and frame[0] == self._unit_id and crc16(frame) == 0

    def expect(self, unit_id: int, shape: Shape, owed: Collection[Shape] = ()) -> None:
        """Say what was asked, and what this unit may still answer late. Older bytes are no answer to it."""
        self._buffer = b""
        self._unit_id = unit_id
        self._shape = shape
        self._owed = owed
        self._own_echo_due = self._echoes

    def rest(self, *, unanswered: bool) -> None:  # noqa: ARG002 - as MbapStream; who owes what is kept by unit
        """Nothing is asked any more: whatever comes now is nobody's answer."""
        self._shape = None
        self._buffer = b""

    def feed(self, data: bytes, transaction: int) -> Sighting:  # noqa: ARG002 - RTU framing has none
        """Take in bytes; noise, echoes, other units' frames and owed late answers are dropped."""
        if self._shape is None:
            return None
        self._buffer += data
        if self._arriving(self._shape):
            return None
        at = 0
        while at + REPLY_OVERHEAD <= len(self._buffer):
            frame = self._frame_at(at)
            if frame is None:
                at += 1
                continue
            sighting = self._judge(frame, self._shape)
            if sighting is not None:
                self._learn(at, self._shape)
                return sighting
            at += len(frame)
        return None

    def _learn(self, at: int, asked: Shape) -> None:
        """A read showed whether our own requests come back on this line."""
        if not asked.echo:
            self._echoes = at >= REQUEST_LENGTH and self._echo_at(at - REQUEST_LENGTH)

    def _arriving(self, asked: Shape) -> bool:
        """Whether the buffer begins as the answer does and only wants more bytes (the usual case)."""
        if asked.echo:
            return False
        head = bytes((self._unit_id, asked.function, asked.data_bytes))
        return self._buffer.startswith(head) and len(self._buffer) < REPLY_OVERHEAD + asked.data_bytes

    def _frame_at(self, at: int) -> bytes | None:
        """Return the whole frame with a right CRC that begins here, if one does."""
        function = self._buffer[at + 1]
        if function & EXCEPTION_BIT:
            size = REPLY_OVERHEAD
        elif 0x01 <= function <= 0x04:
            size = REPLY_OVERHEAD + self._buffer[at + 2]
        elif function in ECHOED_FUNCTIONS:
            size = REQUEST_LENGTH
        else:
            return None
        frame = self._buffer[at : at + size]
        return frame if len(frame) == size and crc16(frame) == 0 else None

    def _judge(self, frame: bytes, asked: Shape) -> Sighting:
        unit_id, function = frame[0], frame[1]
        if unit_id != self._unit_id:
            return None
        if function == asked.function | EXCEPTION_BIT:
            return frame
        if function in ECHOED_FUNCTIONS:
            return self._judge_echo(frame, asked)
        if function & EXCEPTION_BIT:
            late = any(function == owed.function | EXCEPTION_BIT for owed in self._owed)
            return None if late else Malformed(f"function {function:02X} was not asked", in_step=False)
        seen = Shape(function, frame[2])
        if seen == asked:
            return frame
        return None if seen in self._owed else Malformed(_misfit(seen, asked), in_step=False)

    def _judge_echo(self, frame: bytes, asked: Shape) -> Sighting:
        """Take the answer of the very write that was asked; any other is an earlier one's, and nobody's now."""
        if frame[self.pdu_at : -2] != asked.echo:
            return None
        own, self._own_echo_due = self._own_echo_due, False
        return None if own else frame


_OTHER_WRITE = "the answer repeats another write"


def _misfit(seen: Shape, asked: Shape) -> str:
    if seen.function != asked.function:
        return f"function {seen.function:02X} in answer to {asked.function:02X}"
    return f"{seen.data_bytes} bytes of data, {asked.data_bytes} asked"


def _crc_table() -> tuple[int, ...]:
    table = []
    for byte in range(256):
        crc = byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
        table.append(crc)
    return tuple(table)


_CRC_TABLE = _crc_table()


def crc16(data: bytes) -> int:
    """Return the CRC of Modbus over Serial Line V1.02 §6.2.2; 0 over a whole frame with its CRC."""
    crc = 0xFFFF
    for byte in data:
        crc = (crc >> 8) ^ _CRC_TABLE[(crc ^ byte) & 0xFF]
    return crc
