"""Fault device: a Modbus device on a TCP socket that answers, fails and is late as told.

Its frames are built by hand, so a fault of the daemon's protocol library cannot hide in it. Every register
value tells its own unit, table and address (``register_value``), so a value taken for another's shows.
``framing`` is "tcp" (MBAP) or "rtu" (RTU framing over the socket). Faults are set while it runs, for all
units or for one. With ``shared_line`` a late answer goes to whoever is connected when it is ready, as it
does on a real serial line; each unit answers in the order it was asked.
"""

import asyncio
import random
import socket
import struct
from dataclasses import dataclass, field
from enum import Enum, auto

BIND = "127.0.0.1"


class Kind(Enum):
    """What may go wrong with an answer."""

    OK = auto()
    HANG = auto()  # no answer at all
    RESET = auto()  # half an answer, then a TCP reset
    DROP = auto()  # the connection is closed instead of an answer
    LATE = auto()  # `seconds` late
    LATE_AT_RANDOM = auto()  # up to `seconds` late
    SHORT = auto()  # half an answer, then nothing
    FEWER = auto()  # one register too few
    MORE = auto()  # one register too many
    ZERO = auto()  # no register at all
    ODD = auto()  # one byte too many in the data
    GARBAGE = auto()  # something else altogether
    OTHER_UNIT = auto()
    OTHER_FUNCTION = auto()
    EXCEPTION = auto()  # with `code`
    WRONG_TRANSACTION = auto()
    ZERO_TRANSACTION = auto()
    COUNT_LIES = auto()  # the byte count promises more than comes
    BAD_CRC = auto()
    NOISE_BEFORE = auto()
    NOISE_AFTER = auto()
    ECHO = auto()  # our own request comes back first, as from a two-wire adapter
    ECHO_ALONE = auto()  # nothing but our own request
    TWICE = auto()  # the same answer a second time
    IN_PIECES = auto()  # byte by byte


@dataclass(frozen=True)
class Fault:
    """One kind of fault; ``share`` of the requests suffer it (drawn with the device's seed)."""

    kind: Kind = Kind.OK
    seconds: float = 0.0
    code: int = 0
    share: float = 1.0


@dataclass(frozen=True)
class Seen:
    """One request as it came over the wire."""

    raw: bytes
    unit_id: int
    function: int
    address: int
    count: int
    at_s: float = 0.0


OK = Fault()


def register_value(unit_id: int, function: int, address: int) -> int:
    """The value of a register: unit in 4 bits, table in 2, address in 10."""
    return (unit_id & 0xF) << 12 | (function - 1 & 0x3) << 10 | (address & 0x3FF)


def bit_value(unit_id: int, function: int, address: int) -> int:
    """The value of a coil or discrete input: a bit of its register value's mixture."""
    return (register_value(unit_id, function, address) * 40503 >> 7) & 1


def crc(data: bytes) -> bytes:
    """CRC of Modbus over Serial Line V1.02 §6.2.2, bit by bit, low byte first as on the wire."""
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = (value >> 1) ^ 0xA001 if value & 1 else value >> 1
    return struct.pack("<H", value)


@dataclass
class FaultDevice:
    """``async with FaultDevice("tcp") as device:`` then talk to 127.0.0.1, ``device.port``."""

    framing: str = "tcp"
    fault: Fault = OK
    shared_line: bool = False
    seed: int = 1
    accept_and_close: bool = False
    refuses: set = field(default_factory=set)  # (unit, address): answered with exception 2
    units: dict = field(default_factory=dict)  # unit -> Fault
    blocks: dict = field(default_factory=dict)  # (unit, function, address) -> Fault, before that of its unit
    answers: dict = field(default_factory=dict)  # request PDU -> reply PDU, for the examples of the specification
    requests: list = field(default_factory=list)
    accepted: int = 0
    port: int = 0

    async def __aenter__(self):
        self._dice = random.Random(self.seed)
        self._writers = []
        self._queues = {}
        self._tasks = set()
        await self.listen()
        return self

    async def __aexit__(self, *_):
        await self.refuse()
        for task in list(self._tasks):
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    @property
    def connections(self) -> int:
        return len(self._writers)

    async def listen(self) -> None:
        """Take connections, on the same port as before."""
        self._server = await asyncio.start_server(self._serve, BIND, self.port)
        self.port = self._server.sockets[0].getsockname()[1]

    async def refuse(self) -> None:
        """Refuse connections, and end those that stand."""
        self._server.close()
        self.hang_up()
        await asyncio.sleep(0)

    def hang_up(self) -> None:
        for writer in list(self._writers):
            writer.transport.abort()

    async def _serve(self, reader, writer):
        self.accepted += 1
        if self.accept_and_close:
            writer.close()
            return
        self._writers.append(writer)
        try:
            while True:
                head, pdu, unit_id = await self._next_request(reader)
                self._note(head, pdu, unit_id)
                self._queue(unit_id).put_nowait((writer, head, pdu, unit_id))
        except (asyncio.IncompleteReadError, ConnectionError):
            pass
        finally:
            self._writers.remove(writer)
            writer.close()

    async def _next_request(self, reader):
        if self.framing == "tcp":
            head = await reader.readexactly(7)
            pdu = await reader.readexactly(struct.unpack(">H", head[4:6])[0] - 1)
            return head, pdu, head[6]
        frame = await reader.readexactly(8)
        assert crc(frame[:-2]) == frame[-2:], f"the request's CRC is wrong: {frame.hex()}"
        return frame[:1], frame[1:-2], frame[0]

    def _note(self, head, pdu, unit_id):
        function, address, count = struct.unpack(">BHH", pdu)
        raw = head + pdu if self.framing == "tcp" else head + pdu + crc(head + pdu)
        self.requests.append(Seen(raw, unit_id, function, address, count, asyncio.get_running_loop().time()))

    def _queue(self, unit_id):
        if unit_id not in self._queues:
            self._queues[unit_id] = asyncio.Queue()
            task = asyncio.create_task(self._unit(self._queues[unit_id]))
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)
        return self._queues[unit_id]

    async def _unit(self, queue):
        while True:
            writer, head, pdu, unit_id = await queue.get()
            asked = (unit_id, *struct.unpack(">BH", pdu[:3]))
            fault = self.blocks.get(asked, self.units.get(unit_id, self.fault))
            if fault.share < 1.0 and self._dice.random() >= fault.share:
                fault = OK
            late_s = fault.seconds if fault.kind is Kind.LATE else 0.0
            late_s = self._dice.uniform(0.0, fault.seconds) if fault.kind is Kind.LATE_AT_RANDOM else late_s
            await asyncio.sleep(late_s)
            if self.shared_line and self._writers:
                writer = self._writers[-1]
            await self._answer(writer, head, pdu, unit_id, fault)

    async def _answer(self, writer, head, pdu, unit_id, fault):
        kind = fault.kind
        if kind is Kind.HANG or writer.transport.is_closing():
            return
        if kind is Kind.DROP:
            writer.close()
            return
        reply = self._faulty_pdu(pdu, unit_id, fault)
        frame = self._frame(head, reply, unit_id, kind)
        if kind in (Kind.SHORT, Kind.RESET):
            frame = frame[: len(frame) // 2]
        if kind is Kind.IN_PIECES:
            for i in range(len(frame)):
                writer.write(frame[i : i + 1])
                await asyncio.sleep(0.001)
            return
        writer.write(frame)
        if kind is Kind.RESET:
            await asyncio.sleep(0.005)
            raw = writer.get_extra_info("socket")
            raw.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            writer.transport.abort()

    def _faulty_pdu(self, pdu, unit_id, fault):
        function, address, count = struct.unpack(">BHH", pdu)
        if pdu in self.answers:
            return self.answers[pdu]
        if fault.kind is Kind.EXCEPTION:
            return bytes((function | 0x80, fault.code))
        if any((unit_id, each) in self.refuses for each in range(address, address + count)):
            return bytes((function | 0x80, 0x02))
        count += {Kind.FEWER: -1, Kind.MORE: 1, Kind.ZERO: -count}.get(fault.kind, 0)
        function = {Kind.OTHER_FUNCTION: 7 - function}.get(fault.kind, function)
        data = self._data(unit_id, struct.unpack(">B", pdu[:1])[0], address, count)
        data += b"\x55" if fault.kind is Kind.ODD else b""
        told = len(data) + (20 if fault.kind is Kind.COUNT_LIES else 0)
        return bytes((function, told)) + data

    def _data(self, unit_id, function, address, count):
        if function >= 3:
            return b"".join(
                struct.pack(">H", register_value(unit_id, function, address + i)) for i in range(count)
            )
        bits = [bit_value(unit_id, function, address + i) for i in range(count)]
        return bytes(sum(bit << i for i, bit in enumerate(bits[at : at + 8])) for at in range(0, count, 8))

    def _frame(self, head, reply, unit_id, kind):
        if kind is Kind.GARBAGE:
            return b"HTTP/1.1 400 Bad Request\r\n\r\n"
        unit_id = unit_id + 1 if kind is Kind.OTHER_UNIT else unit_id
        if self.framing == "tcp":
            transaction = struct.unpack(">H", head[:2])[0]
            transaction += 1 if kind is Kind.WRONG_TRANSACTION else 0
            transaction = 0 if kind is Kind.ZERO_TRANSACTION else transaction
            frame = struct.pack(">HHHB", transaction, 0, len(reply) + 1, unit_id) + reply
        else:
            frame = bytes((unit_id,)) + reply
            frame += b"\x00\x00" if kind is Kind.BAD_CRC else crc(frame)
        request = self.requests[-1].raw
        if kind is Kind.ECHO_ALONE:
            return request
        before = {Kind.NOISE_BEFORE: b"\x00\xff\x81", Kind.ECHO: request}.get(kind, b"")
        after = {Kind.NOISE_AFTER: b"\x00\xff", Kind.TWICE: frame}.get(kind, b"")
        return before + frame + after
