"""Records: all that a permit asks for of one collector and one period, worked out."""

from dataclasses import dataclass

from monitor.report.permit import digest
from monitor.report.permit.averages import Average, AverageState, averages
from monitor.report.permit.downtime import Cause, Downtime, Known, downtimes
from monitor.report.permit.excursions import Excursion, excursions
from monitor.report.permit.hour import PermitHour
from monitor.report.permit.hours import hours
from monitor.report.permit.sources import Entry, Sources
from monitor.report.permit.tally import Tally, by_day, by_month, tally


@dataclass(frozen=True, slots=True, kw_only=True)
class Records:
    """The records of one collector.

    Attributes:
        sources: what they are made from.
        hours: every hour of the period, oldest first.
        averages: every averaging block.
        days, months, whole: the hours, counted.
        excursions, downtimes: oldest first.
        loose: what people recorded of this period that lies in no excursion and in no downtime.
        readings_digest, entries_digest: SHA-256, 64 hexadecimal digits.
    """

    sources: Sources
    hours: tuple[PermitHour, ...]
    averages: tuple[Average, ...]
    days: tuple[Tally, ...]
    months: tuple[Tally, ...]
    whole: Tally
    excursions: tuple[Excursion, ...]
    downtimes: tuple[Downtime, ...]
    loose: tuple[Entry, ...]
    readings_digest: str
    entries_digest: str

    @property
    def excursion_s(self) -> float:
        """Seconds of operation in excursions."""
        return sum(one.operating_s for one in self.excursions)

    @property
    def downtime_s(self) -> float:
        """Seconds of downtime."""
        return sum(one.span.length_s for one in self.downtimes)

    @property
    def averages_compared(self) -> int:
        """Averages that count, and so were compared with the range."""
        return sum(one.state is AverageState.VALID for one in self.averages)

    def share_of_operation(self, seconds: float) -> float | None:
        """The share of the operating time, 0 or more; None where the unit did not operate."""
        return seconds / self.whole.operating_s if self.whole.operating_s else None


def records(sources: Sources) -> Records:
    """Work out everything; about 10 µs an hour, and a year within a second."""
    settings, zone = sources.settings, sources.zone
    all_hours = hours(sources)
    blocks = averages(all_hours, settings, zone)
    departures = excursions(blocks, settings, sources.entries, sources.alarms)
    losses = downtimes(all_hours, Known(sources.maintenance, sources.watched, sources.entries))
    return Records(
        sources=sources,
        hours=all_hours,
        averages=blocks,
        days=by_day(all_hours, zone),
        months=by_month(all_hours, zone),
        whole=tally("", all_hours),
        excursions=departures,
        downtimes=losses,
        loose=_loose(sources, departures, losses),
        readings_digest=digest.of_readings(sources),
        entries_digest=digest.of_entries(sources),
    )


def _loose(sources: Sources, departures: tuple[Excursion, ...], losses: tuple[Downtime, ...]) -> tuple[Entry, ...]:
    placed = {entry for one in departures for entry in one.entries}
    placed |= {entry for one in losses for entry in one.entries}
    return tuple(
        entry for entry in sources.entries if sources.period.holds(entry.about_utc_s) and entry not in placed
    )


def total_by_cause(losses: tuple[Downtime, ...]) -> tuple[tuple[Cause, int, float], ...]:
    """Each cause of downtime with its number of incidents and its seconds, the longest first."""
    number: dict[Cause, int] = {}
    seconds: dict[Cause, float] = {}
    for one in losses:
        for cause, lasted_s in one.causes:
            number[cause] = number.get(cause, 0) + 1
            seconds[cause] = seconds.get(cause, 0.0) + lasted_s
    return tuple(
        (cause, number[cause], seconds[cause]) for cause in sorted(seconds, key=lambda one: -seconds[one])
    )
