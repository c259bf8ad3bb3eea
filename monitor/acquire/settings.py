"""Link settings: how to reach the devices on one wire or socket."""

from dataclasses import dataclass, field
from enum import StrEnum

from monitor.words import PointId, Table


class Protocol(StrEnum):
    """The three ways a link may speak Modbus."""

    TCP = "modbus-tcp"
    RTU = "modbus-rtu"
    RTU_OVER_TCP = "modbus-rtu-over-tcp"


class Parity(StrEnum):
    """Parity of a serial character."""

    EVEN = "even"
    ODD = "odd"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialPort:
    """A serial port; 19200 8E1 is the default the Modbus serial line specification V1.02 requires."""

    device: str
    baud: int = 19200
    data_bits: int = 8
    parity: Parity = Parity.EVEN
    stop_bits: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """A TCP address: host name or IP, port 1 to 65535 (502 is registered for Modbus)."""

    host: str
    port: int = 502


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkSettings:
    """One link.

    Attributes:
        where: a serial port for RTU, an address for the other two protocols.
        timeout_s: how long one request may take, real seconds, 0.05 to 60.
        scan_period_s: from the start of one scan to the start of the next, 0.1 to 3600.
        late_answer_s: on the RTU framings, the slowest answer still expected after its timeout; a unit that
            timed out is left alone at least this long.
        max_registers: most registers in one request, 1 to 125 (some devices take fewer).
        max_gap: registers nobody asked for that may be read along to merge two requests, 0 to 124.
    """

    name: str
    protocol: Protocol
    where: SerialPort | Address
    timeout_s: float = 1.0
    scan_period_s: float = 1.0
    late_answer_s: float = 3.0
    max_registers: int = 125
    max_gap: int = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where one point is read: protocol address from 0, ``width`` neighbouring entries (1 or 2)."""

    point: PointId
    link: str
    unit_id: int
    table: Table
    address: int
    width: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ForbiddenGap:
    """Entries that must never be read, not even to merge two requests (some devices answer exception 2).

    Attributes:
        first, last: protocol addresses, both inclusive.
    """

    link: str
    unit_id: int
    table: Table
    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One entry of the annunciator that may be written: the only writes that ever leave the process.

    Attributes:
        name: ``horn``, ``beacon`` or ``heartbeat``.
        table: ``COIL`` or ``HOLDING_REGISTER``.
        address: protocol address, from 0.
        on, off: what is written for on and off; for a coil 1 and 0 (or turned round, where it must be energised
            while all is well).
    """

    name: str
    unit_id: int
    table: Table
    address: int
    on: int = 1
    off: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkPlan:
    """All that one link's worker needs to know.

    Attributes:
        outputs: what the worker may write, at most one of each name.
    """

    link: LinkSettings
    sources: tuple[Source, ...]
    forbidden: tuple[ForbiddenGap, ...] = field(default=())
    outputs: tuple[Output, ...] = ()
