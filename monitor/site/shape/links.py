"""Links: how the file says where devices are reached, one shape for each protocol."""

from typing import Annotated, Literal

from pydantic import Field

from monitor.acquire.settings import Parity
from monitor.site.fields import duration, line, matching, member, whole, yes_no
from monitor.site.shape.alarms import AUTO_CLEAR, AutoClear, Delay, Tag
from monitor.site.shape.block import Block, defaulting, optional
from monitor.words import Priority, Table

_HOST = matching(
    # A name or an IPv4 address, or an IPv6 address, which has two colons at least: host:port has one.
    r"([A-Za-z0-9]([A-Za-z0-9._-]{0,252}[A-Za-z0-9])?|[0-9A-Fa-f]{0,4}(:[0-9A-Fa-f]{0,4}){2,7})",
    "must be a host name or an IP address, without a port or a scheme",
    ["192.0.2.10", "gateway-1"],
)

Host = Annotated[str, _HOST]
Port = Annotated[int, whole(1, 65535)]
UnitId = Annotated[int, whole(0, 255)]
ProtocolAddress = Annotated[int, whole(0, 65535)]


class NeverRead(Block):
    """Entries of one unit that no request may touch, not even to merge two reads."""

    unit_id: UnitId = Field(description="Unit identifier. Of the device behind this link.")
    table: Annotated[Table, member(Table)] = Field(
        description="The Modbus table. One of the four of the data model."
    )
    first_protocol_address: ProtocolAddress = Field(description="First forbidden protocol address. From 0.")
    last_protocol_address: ProtocolAddress = Field(description="Last forbidden protocol address. Inclusive.")


class Lost(Block):
    """The alarm of a lost link: one alarm instead of one for each of its transmitters."""

    tag: Tag | None = optional("Tag of this alarm. Default: the name of the link with -LOST behind it.")
    priority: Annotated[Priority, member(Priority)] = defaulting(
        "high",
        "How soon somebody must act. Default high: while the link is lost none of its alarms can be raised "
        "(our choice).",
    )
    on_delay: Delay = defaulting(
        "5 s",
        "How long the link must be lost before the alarm is raised. 0 s to 1 d; default 5 s (our choice): shorter "
        "than the 10 s of a bad signal, so that this alarm comes first and holds those of the transmitters back.",
    )
    off_delay: Delay = defaulting(
        "5 s",
        "How long the link must be back before the alarm has returned to normal. 0 s to 1 d; default 5 s "
        "(our choice).",
    )
    latching: Annotated[bool, yes_no()] = defaulting(
        "no", "Held after the return to normal. Default no: a link that is back is back."
    )
    auto_clear: AutoClear = defaulting("30 min", AUTO_CLEAR)


class LinkBlock(Block):
    """What every link has."""

    timeout: Annotated[float, duration(0.05, 60)] = defaulting(
        "1 s",
        "How long one request may take. 50 ms to 60 s. Default 1 s: the Modbus serial line "
        "specification V1.02 §2.4.1 names 1 s to several seconds.",
    )
    scan_period: Annotated[float, duration(0.1, 3600)] = defaulting(
        "1 s",
        "From the start of one scan to the start of the next. 0.1 s to 1 h. Default 1 s: fast enough "
        "to see the sawtooth of pulse cleaning (common practice, no source).",
    )
    max_registers: Annotated[int, whole(1, 125)] = defaulting(
        "125",
        "Most registers in one request. 1 to 125; default 125, the limit of the Modbus Application "
        "Protocol V1.1b3 §6.3. Some devices take fewer.",
    )
    max_gap: Annotated[int, whole(0, 124)] = defaulting(
        "8",
        "Registers that nobody asked for and that may be read along to merge two requests. 0 to 124; "
        "default 8: cheaper on a serial line than a second request.",
    )
    never_read: list[NeverRead] = Field(
        default_factory=list,
        description="Entries that must never be read. Some devices answer such a read with an exception.",
    )
    lost: Lost = Field(
        default_factory=Lost,
        description="The alarm of this link: not connected, or (of two units and more) none answers. Always there "
        "where a point is read through the link.",
    )


class TcpLink(LinkBlock):
    """Modbus TCP."""

    protocol: Literal["modbus-tcp"] = Field(description="How the link speaks Modbus. Modbus TCP.")
    host: Host = Field(description="Host name or IP address. Of the device or gateway.")
    port: Port = defaulting("502", "TCP port. Default 502, registered for Modbus.")


class LateAnswer(LinkBlock):
    """What both RTU framings have: no transaction number tells one answer from another."""

    late_answer: Annotated[float, duration(0, 60)] = defaulting(
        "3 s",
        "The slowest answer still expected after its timeout. 0 s to 60 s; a unit that timed out is "
        "left alone this long, so that its late answer is never taken for another register's. Default 3 s "
        "(common practice, no source).",
    )


class RtuOverTcpLink(LateAnswer):
    """RTU framing inside a TCP connection, as serial device servers speak it."""

    protocol: Literal["modbus-rtu-over-tcp"] = Field(
        description="How the link speaks Modbus. RTU framing over TCP."
    )
    host: Host = Field(description="Host name or IP address. Of the serial device server.")
    port: Port = defaulting("502", "TCP port. Default 502.")


class RtuLink(LateAnswer):
    """Modbus RTU on a serial port."""

    protocol: Literal["modbus-rtu"] = Field(description="How the link speaks Modbus. RTU on a serial port.")
    serial_port: Annotated[str, line("the path of a serial port")] = Field(
        description="Path of the serial port. Such as /dev/ttyRS485."
    )
    baud: Annotated[int, whole(300, 4_000_000)] = defaulting(
        "19200",
        "Bits a second. 300 to 4000000; default 19200, the required default of the Modbus serial line "
        "specification V1.02 §3.2.",
    )
    parity: Annotated[Parity, member(Parity)] = defaulting(
        "even",
        "Parity. Default even, the required default of the Modbus serial line specification V1.02 §2.5.1.",
    )
    stop_bits: Annotated[int, whole(1, 2)] = defaulting(
        "1",
        "Stop bits. 1 with parity, 2 without, so that a character has 11 bits (Modbus serial line "
        "specification V1.02 §2.5.1). Default 1.",
    )


Link = Annotated[TcpLink | RtuLink | RtuOverTcpLink, Field(discriminator="protocol")]
