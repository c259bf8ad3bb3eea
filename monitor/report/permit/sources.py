"""Sources: what the records of one collector are made from, and nothing else."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from typing import NamedTuple

from monitor.judge.performance.span import Span
from monitor.report.permit.settings import PermitSettings
from monitor.words import HistoryRow, HourRow


class Maintenance(NamedTuple):
    """The monitor was out of service, as a person said.

    Attributes:
        span: from taking it out of service to its return.
        by: who took it out.
        reason: why, in that person's words.
    """

    span: Span
    by: str
    reason: str


class Entry(NamedTuple):
    """What a person recorded of an excursion or of a downtime, Unix seconds.

    Attributes:
        about_utc_s: a moment within it.
        at_utc_s: when it was recorded.
        cause, action: in that person's words.
    """

    about_utc_s: float
    at_utc_s: float
    by: str
    cause: str
    action: str


class Alarmed(NamedTuple):
    """A time in which an alarm of the collector was active.

    Attributes:
        span: from its raising until it was active no longer.
        occurrence: the name of it in the journal.
    """

    tag: str
    span: Span
    occurrence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sources:
    """What the records of one collector and one period are made from.

    Attributes:
        collector: its name.
        description: what it serves; may be empty.
        dp_tag: tag of the DP's transmitter.
        period: whole hours that are over.
        zone: in which days and months are counted.
        settings: what the permit says.
        hours: of the DP, oldest first; hours without a reading are missing.
        fan_hours: the same of its fan; None where the site file has no fan point.
        minutes, fan_minutes: of the DP and of the fan, for the hours that ``picking.to_split`` names.
        known_from_utc_s: the begin of the first hour of this DP in the history; None where there is none.
        keeps_s: how long the site file lets the store keep hours; None where that is not known.
        maintenance: when the monitor was out of service.
        watched: in which times a daemon ran, joined; None where no journal tells.
        told_from_utc_s: the first event in the journal; None where there is none.
        entries: what people recorded.
        alarms: active in the period.
    """

    collector: str
    dp_tag: str
    period: Span
    zone: tzinfo
    settings: PermitSettings
    hours: Sequence[HourRow]
    description: str = ""
    fan_hours: Sequence[HourRow] | None = None
    minutes: Sequence[HistoryRow] = ()
    fan_minutes: Sequence[HistoryRow] = ()
    known_from_utc_s: float | None = None
    keeps_s: float | None = None
    maintenance: Sequence[Maintenance] = ()
    watched: Sequence[Span] | None = None
    told_from_utc_s: float | None = None
    entries: Sequence[Entry] = ()
    alarms: Sequence[Alarmed] = ()
