"""Filters: the set in service, how it is cleaned, its compressed air, and what a permit asks for."""

from typing import Annotated

from monitor.condition.units import Kind
from monitor.interpret.settings import CleaningMode
from monitor.report.permit.settings import ValidHour
from monitor.site.fields import any_quantity, date, duration, member, percent, quantity, whole
from monitor.site.quantities import Quantity
from monitor.site.shape.alarms import DAY_S, Pressure
from monitor.site.shape.block import Block, defaulting, optional
from monitor.site.shape.points import Flow

Volume = Annotated[Quantity, quantity(Kind.VOLUME, "3.5 ft3")]


class Cleaning(Block):
    """How the filters are cleaned; used to read the curve, to advise and to warn, never to control."""

    mode: Annotated[CleaningMode, member(CleaningMode)] = defaulting(
        "on-demand",
        "How the cleaning controller decides to pulse. on-demand (default): from start down to stop; timed: one "
        "row after another all the time.",
    )
    start: Pressure | None = optional(
        "DP at which cleaning starts. Needed for on-demand. Common practice: 5 inH2O, no source.",
    )
    stop: Pressure | None = optional(
        "DP at which cleaning stops. Needed for on-demand. Common practice: an inch below start, no source.",
    )
    pulse_every: Annotated[float, duration(0.5, 3600)] = defaulting(
        "10 s", "From one row's pulse to the next. 0.5 s to 1 h; default 10 s (common practice, no source)."
    )
    pulse_length: Annotated[float, duration(0.01, 10)] = defaulting(
        "100 ms", "How long a valve stays open. 10 ms to 10 s; default 100 ms (common practice, no source)."
    )
    rows: Annotated[int | None, whole(1, 500)] = optional(
        "Rows of filters, each with one diaphragm valve. 1 to 500; for the wear of the diaphragms and to notice "
        "a dead valve.",
    )


class Filters(Block):
    """The set of filters in service."""

    installed: Annotated[float | None, date()] = optional(
        "Day on which the set was put in. Such as 2026-03-01; a change is also noticed in the curve, or told by "
        "a person.",
    )
    change_out: Pressure | None = optional(
        "Residual DP at which the set is to be changed. Without it there is no forecast; the maker of the filters "
        "or the fan's reserve says it.",
    )
    lead_time: Annotated[float, duration(0, 3660 * DAY_S)] = defaulting(
        "42 d", "From ordering a set to having it. 0 s to 3660 d; default 42 d (our choice)."
    )
    design_flow: Flow | None = optional(
        "Flow to which the residual DP is corrected where the flow is measured. Default: the usual flow of the "
        "set's first weeks.",
    )


class CompressedAir(Block):
    """The compressed air that cleaning takes."""

    air_per_pulse: Volume | None = optional(
        "Free air of one pulse. From the valve's manual at the header's pressure and the pulse length.",
    )
    header_volume: Volume | None = optional(
        "Volume of the pulse header. With the dip of the measured header pressure it gives the air of a pulse.",
    )
    cost: Annotated[Quantity | None, any_quantity("0.30 EUR")] = optional(
        "What so much free air costs (cost_of). A number and the site's money; without it no cost is shown.",
    )
    cost_of: Volume = defaulting("1000 ft3", "The free air that costs so much. Default 1000 ft3.")
    rated_pulses: Annotated[int, whole(1000, 1_000_000_000)] = defaulting(
        "1000000",
        "Pulses for which a diaphragm is rated. 1000 to 1000000000; default 1000000 (common practice, no source).",
    )


class Permit(Block):
    """What a permit asks to be recorded of this collector. The permit decides; this only keeps the record."""

    valid_hour: Annotated[ValidHour, member(ValidHour)] = defaulting(
        "four-quarters",
        "By which rule an hourly average counts. four-quarters: 40 CFR 60.13(h)(2), default; three-quarters: 40 "
        "CFR 63.1965; two-points: 40 CFR 60.1825.",
    )
    low: Pressure | None = optional("Lower end of the indicator range. An average below it is an excursion.")
    high: Pressure | None = optional("Upper end of the indicator range. An average above it is an excursion.")
    average: Annotated[float, duration(3600, DAY_S)] = defaulting(
        "1 h", "Over how long the averages run that are compared. 1 h to 1 d, whole hours; default 1 h."
    )
    least_available: Annotated[float, percent()] = defaulting(
        "75 %", "Share of operating hours that must be valid. 0 % to 100 %; default 75 % (40 CFR 63.9025)."
    )
    keep: Annotated[float, duration(DAY_S, 3660 * DAY_S)] = defaulting(
        "1827 d",
        "How long the records must be kept. 1 d to 3660 d; default 1827 d, five years (40 CFR 63.10(b)(1)).",
    )
