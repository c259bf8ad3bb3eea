"""Whole: the site file from the top."""

from typing import Annotated

from pydantic import Field

from monitor.condition.units import PA_PER_INCH_OF_WATER
from monitor.site.fields import choice, line, member, name, zone
from monitor.site.shape.alarms import BadSignal, Band, EarlyWarning, Tag, Trends
from monitor.site.shape.annunciator import Annunciator
from monitor.site.shape.block import AllOrSome, Block, OrNone, defaulting
from monitor.site.shape.commands import Commands
from monitor.site.shape.filters import Cleaning, CompressedAir, Filters, Permit
from monitor.site.shape.links import Link
from monitor.site.shape.outlets import Http, Mqtt, Store
from monitor.site.shape.phone import Phone
from monitor.site.shape.points import DiscretePoint, DpPoint, FlowPoint, PressurePoint
from monitor.troubles import Sign


class Site(Block):
    """The site as a whole."""

    name: Annotated[str, line("the name of the site", 80)] = Field(description="Name of the site. For people.")
    inch_of_water: Annotated[str, choice(tuple(PA_PER_INCH_OF_WATER))] = defaulting(
        "conventional",
        "Which inch every inH2O of this file is. conventional (249.08891 Pa, default), 4 degC, 60 degF or "
        "68 degF; they are up to 0.2 % apart (NIST SP 811 App. B.8; 68 degF from water of 998.2071 kg/m³).",
    )
    time_zone: Annotated[str, zone()] = defaulting(
        "UTC",
        "In which days and months of records are counted. A name of the IANA time zone database; default UTC.",
    )


class Collector(Block):
    """One dust collector: its points and its alarms."""

    description: Annotated[str, line("a description")] = Field(
        default="", validate_default=False, description="What it serves. For people."
    )
    area: Annotated[str, line("the name of an area", 60)] = Field(
        default="", validate_default=False, description="Where it stands. For people, and for routes of the phone."
    )
    dp: DpPoint = Field(
        description="The differential pressure across the filter. The one point that must be there."
    )
    fan_running: DiscretePoint | None = Field(
        default=None, description="Whether the fan runs. Optional; a still DP is frozen only while it runs."
    )
    cleaning_active: DiscretePoint | None = Field(
        default=None, description="Whether the cleaning controller is cleaning. Optional."
    )
    header_pressure: PressurePoint | None = Field(
        default=None, description="Compressed-air header pressure. Optional."
    )
    air_flow: FlowPoint | None = Field(default=None, description="Air flow through the collector. Optional.")
    cleaning: Cleaning | None = Field(
        default=None, description="How the filters are cleaned. For reading the curve, advice and warnings only."
    )
    filters: Filters = Field(
        default_factory=Filters, description="The set of filters in service. Every key is optional."
    )
    compressed_air: CompressedAir = Field(
        default_factory=CompressedAir, description="The compressed air of cleaning. Every key is optional."
    )
    early_warnings: Annotated[dict[Annotated[Sign, member(Sign)], EarlyWarning], AllOrSome(Sign)] = Field(
        default_factory=dict,
        description="Which early warnings are alarms. all, none (default), or a block for each. An alarm is for "
        "somebody who acts upon it, so none is one unasked; all of them are shown in any case.",
    )
    permit: Annotated[Permit | None, OrNone()] = Field(
        default=None, description="What a permit asks to be recorded. Default none."
    )
    trends: Trends = Field(
        default_factory=Trends, description="Windows of the residual DP and of the running average."
    )
    bands: dict[Tag, Band] = Field(
        default_factory=dict,
        description="Warning bands on the DP. As many as wanted, each under its tag (PDAH-101).",
    )
    bad_signal: BadSignal = Field(
        default_factory=BadSignal, description="The alarm for a DP that cannot be trusted. Always there."
    )


class SiteFile(Block):
    """A cakewatch site file."""

    site: Site = Field(description="The site as a whole.")
    links: dict[Annotated[str, name("the name of a link")], Link] = Field(
        description="How devices are reached, each link under its name.", min_length=1
    )
    collectors: dict[Annotated[str, name("the name of a collector")], Collector] = Field(
        description="The dust collectors, each under its name.", min_length=1
    )
    store: Store = Field(default_factory=Store, description="Where events and history are kept.")
    mqtt: Annotated[Mqtt | None, OrNone()] = Field(
        default=None, description="The broker. Default none: nothing is published."
    )
    http: Annotated[Http | None, OrNone()] = Field(
        default_factory=Http,
        description="Where the page, /metrics, /health and the commands are served. Default 127.0.0.1:9464; "
        "none for nowhere.",
    )
    commands: Commands = Field(
        default_factory=Commands, description="Who may do what with an alarm. Every key is optional."
    )
    phone: Annotated[Phone | None, OrNone()] = Field(
        default=None, description="Who is called for which alarms. Default none: nobody is called."
    )
    annunciator: Annotated[Annunciator | None, OrNone()] = Field(
        default=None, description="Horn and beacon. Default none: nothing is ever written to any device."
    )
