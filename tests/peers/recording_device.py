"""Recording device: a fault device that can be written to, and writes down every write that reaches it.

Every request that is not one of the four reads is recorded (05, 06, 0F, 10, 15, 16, 17, whatever there is), to
any unit, broadcasts included. Only Write Single Coil (05) and Write Single Register (06) are carried out; their
echo may be late, lost or wrong like any other answer.
"""

import asyncio
import struct
from dataclasses import dataclass, field
from typing import NamedTuple

from tests.peers.fault_device import FaultDevice, Kind, crc

READS = frozenset({0x01, 0x02, 0x03, 0x04})
SINGLE = frozenset({0x05, 0x06})
COUNTED = frozenset({0x0F, 0x10})
#: Functions whose request has a length one can know.
KNOWN = READS | SINGLE | COUNTED


class Write(NamedTuple):
    """One write as it came over the wire; ``value`` is the word in it (FF00 for a coil that is switched on)."""

    unit_id: int
    function: int
    address: int
    value: int
    at_s: float


@dataclass
class RecordingDevice(FaultDevice):
    """As ``FaultDevice``; ``written`` is what it shows now, by (unit, function, address)."""

    writes: list = field(default_factory=list)
    written: dict = field(default_factory=dict)

    @property
    def entries(self) -> set:
        """Every (unit, function, address) that was ever written to."""
        return {write[:3] for write in self.writes}

    def restart(self) -> None:
        """Lose the power for a moment: nothing of what was written is left, and no connection."""
        self.written.clear()
        self.hang_up()

    async def _next_request(self, reader):
        if self.framing == "tcp":
            return await super()._next_request(reader)
        frame = await reader.readexactly(2)
        if frame[1] not in KNOWN:
            # RTU frames say no length: what this one holds nobody can tell, that it came is bad enough.
            self._record(frame[0], frame[1], 0, 0)
            raise ConnectionError
        frame += await reader.readexactly(6)
        if frame[1] in COUNTED:
            frame += await reader.readexactly(frame[6] + 1)
        assert crc(frame[:-2]) == frame[-2:], f"the request's CRC is wrong: {frame.hex()}"
        return frame[:1], frame[1:-2], frame[0]

    def _note(self, head, pdu, unit_id):
        if pdu[0] not in READS:
            self._record(unit_id, *struct.unpack(">BHH", pdu.ljust(5, b"\0")[:5]))
        if len(pdu) == 5:
            super()._note(head, pdu, unit_id)

    def _record(self, unit_id, function, address, value):
        self.writes.append(Write(unit_id, function, address, value, asyncio.get_running_loop().time()))

    def _faulty_pdu(self, pdu, unit_id, fault):
        if pdu[0] in READS:
            return super()._faulty_pdu(pdu, unit_id, fault)
        function, address, value = struct.unpack(">BHH", pdu[:5])
        if fault.kind is Kind.EXCEPTION:
            return bytes((function | 0x80, fault.code))
        if function not in SINGLE:
            return bytes((function | 0x80, 0x01))
        if (unit_id, address) in self.refuses:
            return bytes((function | 0x80, 0x02))
        if fault.kind is Kind.ODD:
            return struct.pack(">BHH", function, address, value ^ 0x0100)
        self.written[unit_id, function, address] = value
        return pdu
