"""Annunciator: horn, beacon and heartbeat, and the only addresses that are ever written, as the file says them.

It calls people. It is no safety system, and nothing may be stopped or started by it.
"""

from enum import StrEnum
from typing import Annotated, Any

from pydantic import ConfigDict, Field

from monitor.site.fields import duration, line, member, reference, whole
from monitor.site.shape.block import Block, defaulting, optional
from monitor.site.shape.links import ProtocolAddress, UnitId
from monitor.words import Priority, Table

WRITABLE = (Table.COIL, Table.HOLDING_REGISTER)

_ADDRESSED: dict[str, Any] = {
    "oneOf": [{"required": ["table", "protocol_address"]}, {"required": ["reference_number"]}]
}
_WORD = whole(0, 65535)


class EnergisedWhen(StrEnum):
    """When the output is energised."""

    ALARM = "alarm"
    HEALTHY = "healthy"


class Written(Block):
    """One entry that is written: a coil, or a holding register."""

    model_config = ConfigDict(json_schema_extra=_ADDRESSED)

    table: Annotated[Table | None, member(Table, tuple(table.value for table in WRITABLE))] = optional(
        "The Modbus table. Coil or holding register, the two that can be written; goes with protocol_address.",
    )
    protocol_address: ProtocolAddress | None = optional(
        "Address as on the wire, from 0. The first entry of every table is 0.",
    )
    reference_number: Annotated[str | None, reference()] = optional(
        "Address as most manuals print it, from 1. 00001 is coil, protocol address 0; 40001 is holding register, "
        "protocol address 0. Instead of table and protocol_address.",
    )
    on_word: Annotated[int | None, _WORD] = optional(
        "What is written to energise a holding register. 0 to 65535; default 1. A coil has none.",
    )
    off_word: Annotated[int | None, _WORD] = optional(
        "What is written to de-energise a holding register. 0 to 65535; default 0. A coil has none.",
    )


class Caller(Written):
    """Horn or beacon."""

    energised_when: Annotated[EnergisedWhen, member(EnergisedWhen)] = defaulting(
        "alarm",
        "When the output is energised. alarm (default), or healthy for fail-safe wiring: energised while there is "
        "nothing to call for, so that a broken wire calls (common practice, no source).",
    )


class Annunciator(Block):
    """A horn and a beacon on Modbus. An annunciator, no safety system: nothing may be stopped or started by it."""

    link: Annotated[str, line("the name of a link", 40)] = Field(
        description="The link it is written through. A name from the section links."
    )
    unit_id: UnitId = Field(
        description="Unit identifier of the device. 1 to 247; on Modbus TCP also 255. Never 0: a gateway may pass "
        "that on as a broadcast, and every device behind it would be written."
    )
    least_priority: Annotated[Priority, member(Priority)] = defaulting(
        "high", "Alarms below it move neither horn nor beacon. Default high (our choice)."
    )
    heartbeat_period: Annotated[float, duration(1, 60)] = defaulting(
        "5 s",
        "The heartbeat changes this often. 1 s to 60 s; default 5 s (our choice). The other side should take the "
        "watch for dead, and call, when it stands still for three times as long.",
    )
    horn: Caller | None = Field(default=None, description="The horn. Can be silenced. Horn, beacon or both.")
    beacon: Caller | None = Field(
        default=None, description="The beacon. Stays lit when the horn is silenced. Horn, beacon or both."
    )
    heartbeat: Written | None = Field(
        default=None, description="Changes all the time while cakewatch watches. Default none; better have one."
    )
