"""Points: how the file says where a point is read and what the register means."""

from typing import Annotated, Any

from pydantic import ConfigDict, Field

from monitor.condition.registers import Encoding, Order
from monitor.condition.units import Kind
from monitor.site.fields import (
    any_quantity,
    counts_or_none,
    decimal,
    duration,
    line,
    member,
    quantity,
    reference,
    unit_of,
    whole,
    yes_no,
)
from monitor.site.quantities import Quantity
from monitor.site.shape.alarms import DAY_S, Pressure, Tag
from monitor.site.shape.block import Block, defaulting, optional
from monitor.site.shape.links import ProtocolAddress, UnitId
from monitor.words import Table

Decimal = Annotated[float, decimal()]
Flow = Annotated[Quantity, quantity(Kind.FLOW, "12000 cfm")]


def _exactly_one(*groups: list[str]) -> dict[str, Any]:
    return {"oneOf": [{"required": group} for group in groups]}


_ADDRESSED = _exactly_one(["table", "protocol_address"], ["reference_number"])


class Where(Block):
    """Where a point is read: either table and protocol address, or a reference number."""

    model_config = ConfigDict(json_schema_extra=_ADDRESSED)

    tag: Tag = Field(description="The point's tag. As on the drawing, ISA-5.1 style (PDT-101).")
    link: Annotated[str, line("the name of a link", 40)] = Field(
        description="The link it is read through. A name from the section links."
    )
    unit_id: UnitId = Field(
        description="Unit identifier of the device. 1 to 247; on Modbus TCP also 0 and 255, for a device that is "
        "reached by its IP address alone."
    )
    table: Annotated[Table | None, member(Table)] = optional(
        "The Modbus table. Coil, discrete input, input register or holding register; goes with protocol_address.",
    )
    protocol_address: ProtocolAddress | None = optional(
        "Address as on the wire, from 0. The first entry of every table is 0.",
    )
    reference_number: Annotated[str | None, reference()] = optional(
        "Address as most manuals print it, from 1. The leading digit names the table: 30001 is input "
        "register, protocol address 0. Instead of table and protocol_address.",
    )
    stale_after: Annotated[float | None, duration(1, DAY_S)] = optional(
        "Without an answer for this long the reading is stale, and bad. 1 s to 1 d; default the larger "
        "of 5 s and three scan periods and a timeout (our choice).",
    )


class Numeric(Where):
    """A point whose register holds a number."""

    encoding: Annotated[Encoding, member(Encoding)] = Field(
        description="What the register holds. int16, uint16, int32, uint32 or float32; it decides whether a DP "
        "below zero is seen."
    )
    word_order: Annotated[Order | None, member(Order)] = optional(
        "Which of two registers comes first. Required for 32 bits and refused for 16: Modbus defines "
        "none, so there is no default.",
    )
    byte_order: Annotated[Order, member(Order)] = defaulting(
        "high-first",
        "Which byte of a register comes first. Default high-first, as the Modbus Application Protocol "
        "V1.1b3 §4.2 defines.",
    )


class Damping(Block):
    """Smoothing against the spikes of pulse cleaning: median first, then a first-order lag."""

    median: Annotated[int | None, whole(3, 15)] = optional(
        "Median of this many samples. Odd, 3 to 15; default none.",
    )
    lag: Annotated[float | None, duration(0.1, 3600)] = optional(
        "Time constant of a first-order lag. 0.1 s to 1 h; default none.",
    )


class LoopCounts(Block):
    """Raw counts of a 4–20 mA loop."""

    counts_at_4_ma: Decimal = Field(description="Counts the converter shows at 4 mA. From its manual.")
    counts_at_20_ma: Decimal = Field(description="Counts the converter shows at 20 mA. From its manual.")
    full_scale_counts: Annotated[float | None, counts_or_none()] = optional(
        "The last count of the converter. A reading there is saturated or failed high, never a valid "
        "full scale; none where it reaches beyond 21 mA. Default: counts_at_20_ma where that is the last count of "
        "the register or of a usual converter (1023, 4095, 16383, 32767, 65535), otherwise none.",
    )


class PressureLoop(LoopCounts):
    """The range of a pressure transmitter."""

    at_4_ma: Pressure = Field(description="Pressure at 4 mA. The lower end of the range; may be negative.")
    at_20_ma: Pressure = Field(description="Pressure at 20 mA. The upper end of the range.")


class FlowLoop(LoopCounts):
    """The range of a flow transmitter."""

    at_4_ma: Flow = Field(description="Flow at 4 mA. The lower end of the range.")
    at_20_ma: Flow = Field(description="Flow at 20 mA. The upper end of the range.")


class Scaled(Block):
    """A number already in engineering units: number × scale + offset."""

    scale: Decimal = defaulting("1", "Factor of the number in the register. Default 1; not 0.")
    offset: Decimal = defaulting("0", "Added after scaling, in the unit. Default 0.")


class PressureScaled(Scaled):
    """Pressure in engineering units."""

    unit: Annotated[str, unit_of(Kind.PRESSURE)] = Field(
        description="The unit after scaling. Such as inH2O or Pa."
    )


class FlowScaled(Scaled):
    """Flow in engineering units."""

    unit: Annotated[str, unit_of(Kind.FLOW)] = Field(description="The unit after scaling. Such as cfm or m3/h.")


class PressureRange(Block):
    """A range of pressures."""

    low: Pressure = Field(description="Lower end. May be negative.")
    high: Pressure = Field(description="Upper end. Above the lower.")


class FlowRange(Block):
    """A range of flows."""

    low: Flow = Field(description="Lower end. May be negative.")
    high: Flow = Field(description="Upper end. Above the lower.")


_VALID_RANGE = (
    "Outside of it a reading is bad, out of range. Default: for a loop none, NAMUR NE 43 judges the current; for "
    "engineering units none."
)
_MEASURING_RANGE = (
    "What the transmitter can measure, for engineering units. The 2 % default of the deadband and the warnings "
    "about unreachable bands come from it; a loop says it by its two ends."
)


class Analog(Numeric):
    """A point that measures."""

    model_config = ConfigDict(json_schema_extra={"allOf": [_ADDRESSED, _exactly_one(["loop"], ["engineering"])]})

    damping: Damping = Field(default_factory=Damping, description="Smoothing. None by default.")
    frozen_after: Annotated[float | None, duration(10, DAY_S, never="never")] = defaulting(
        "never",
        "A number that did not move for this long while the fan ran is frozen, and bad. 10 s to 1 d, "
        "or never. Default 10 min for the DP, which always moves a little (our choice), never for the others.",
    )


class PressurePoint(Analog):
    """A pressure: either the raw counts of a 4–20 mA loop, or engineering units."""

    loop: PressureLoop | None = Field(default=None, description="Raw counts of a 4–20 mA loop. Or engineering.")
    engineering: PressureScaled | None = Field(default=None, description="Engineering units. Or loop.")
    valid_range: PressureRange | None = Field(default=None, description=_VALID_RANGE)
    measuring_range: PressureRange | None = Field(default=None, description=_MEASURING_RANGE)


class DpPoint(PressurePoint):
    """The differential pressure across the filter."""

    frozen_after: Annotated[float | None, duration(10, DAY_S, never="never")] = defaulting(
        "10 min",
        "A number that did not move for this long while the fan ran is frozen, and bad. 10 s to 1 d and at least "
        "ten scans, or never; default 10 min or ten scans: a live DP always moves a little (our choice).",
    )


class FlowPoint(Analog):
    """An air flow: either the raw counts of a 4–20 mA loop, or engineering units."""

    loop: FlowLoop | None = Field(default=None, description="Raw counts of a 4–20 mA loop. Or engineering.")
    engineering: FlowScaled | None = Field(default=None, description="Engineering units. Or loop.")
    valid_range: FlowRange | None = Field(default=None, description=_VALID_RANGE)
    measuring_range: FlowRange | None = Field(default=None, description=_MEASURING_RANGE)


class Threshold(Scaled):
    """A number compared with a threshold: at or above it means yes."""

    unit: Annotated[str, line("a unit", 12)] = Field(
        description="The unit after scaling. Such as A; never converted."
    )
    at_least: Annotated[Quantity, any_quantity("12 A")] = Field(
        description="From here on the answer is yes. In the unit above."
    )
    deadband: Annotated[Quantity | None, any_quantity("1 A")] = optional(
        "How far below at_least the number must fall before the answer turns to no. Default 0.",
    )


class DiscretePoint(Where):
    """A yes or no: a coil, a discrete input, one bit of a register, or a register against a threshold."""

    bit: Annotated[int | None, whole(0, 15)] = optional(
        "The bit of a register. 0 (least significant) to 15.",
    )
    encoding: Annotated[Encoding | None, member(Encoding)] = optional(
        "What the register holds. Goes with threshold."
    )
    word_order: Annotated[Order | None, member(Order)] = optional(
        "Which of two registers comes first. Goes with threshold.",
    )
    byte_order: Annotated[Order, member(Order)] = defaulting(
        "high-first", "Which byte of a register comes first. Default high-first."
    )
    threshold: Threshold | None = Field(
        default=None, description="A number from which on the answer is yes. Such as motor amps."
    )
    inverted: Annotated[bool, yes_no()] = defaulting(
        "no", "Whether 0 means yes. For a normally closed contact; default no."
    )
