"""CSV tables: the records as files that a spreadsheet or a program reads (RFC 4180).

A comma between fields, CR LF after each line, quotes where they must be, one heading line, UTF-8. Moments are
written twice: on the site's clock with its offset (so that the hour that comes twice in autumn can be told), and
in UTC. Numbers are plain; an empty field is "none". What people wrote is guarded: a spreadsheet would run a field
that begins with one of ``= + - @`` as a formula, so an apostrophe stands before it.
"""

import csv
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, tzinfo
from typing import Any

from monitor.report.permit.averages import Average
from monitor.report.permit.downtime import Downtime
from monitor.report.permit.excursions import Excursion
from monitor.report.permit.hour import PermitHour
from monitor.report.permit.notes import export, notes
from monitor.report.permit.printing import Printing, iso
from monitor.report.permit.records import Records
from monitor.report.permit.tally import Tally
from monitor.report.permit.wording import cause, causes_told, reason

#: One field for each name of a table's heading.
Row = dict[str, Any]

_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def tables(records: Sequence[Records], printing: Printing) -> dict[str, str]:
    """The text of each file by its name; all collectors in the same files."""
    made: Mapping[str, Callable[[Records], Iterator[Row]]] = {
        "hours.csv": _hours,
        "days.csv": lambda one: _tallies(one, one.days, "day"),
        "months.csv": lambda one: _tallies(one, one.months, "month"),
        "excursions.csv": _excursions,
        "downtime.csv": _downtimes,
        "about.csv": lambda one: _about(one, printing),
    }
    return {
        name: _written(_HEADINGS[name], (row for one in records for row in rows(one)))
        for name, rows in made.items()
    }


_HEADINGS: Mapping[str, tuple[str, ...]] = {
    "hours.csv": (
        *("collector", "begins", "begins_utc", "state", "lacks", "mean_inh2o", "lowest_inh2o", "highest_inh2o"),
        *("readings", "readings_q1", "readings_q2", "readings_q3", "readings_q4", "first_reading_utc"),
        *("last_reading_utc", "left_out", "worst_reason", "operating_s", "ran_q1", "ran_q2", "ran_q3", "ran_q4"),
        *(
            "maintenance",
            "picked_by_minutes",
            "average_begins",
            "average_state",
            "average_inh2o",
            "average_outside",
        ),
    ),
    "days.csv": (
        *("collector", "day", "hours", "operating_hours", "valid_hours", "invalid_hours", "not_operating_hours"),
        *("hours_not_in_history", "operating_s", "availability", "enough", "mean_inh2o", "lowest_hour_inh2o"),
        *("highest_hour_inh2o", "readings"),
    ),
    "excursions.csv": (
        *("collector", "begins", "begins_utc", "ends", "ends_utc", "duration_s", "operating_s", "side"),
        *("bound_inh2o", "worst_inh2o", "averages", "cause", "corrective_action", "recorded_by", "recorded_utc"),
        "alarms",
    ),
    "downtime.csv": (
        *("collector", "incident", "begins", "begins_utc", "ends", "ends_utc", "duration_s", "cause", "cause_s"),
        *("reason", "words", "recorded_cause", "recorded_action", "recorded_by"),
    ),
    "about.csv": ("collector", "what", "value"),
}
_HEADINGS = {**_HEADINGS, "months.csv": tuple("month" if one == "day" else one for one in _HEADINGS["days.csv"])}


def _written(heading: tuple[str, ...], rows: Iterator[Row]) -> str:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, heading, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def guarded(words: str) -> str:
    """Words of a person or a device, which no spreadsheet takes for a formula."""
    return f"'{words}" if words.startswith(_FORMULA) else words


def _moments(name: str, utc_s: float, zone: tzinfo) -> Row:
    return {name: iso(utc_s, zone), f"{name}_utc": _utc(utc_s)}


def _utc(utc_s: float | None) -> str:
    return "" if utc_s is None else iso(utc_s, UTC).replace("+00:00", "Z")


def _figure(value: float | None) -> str:
    """Four decimals: a hundredth of what a transmitter can tell, and free of the noise of sums."""
    return "" if value is None else f"{value:.4f}"


def _seconds(value: float) -> str:
    return f"{value:.0f}"


def _hours(records: Records) -> Iterator[Row]:
    zone, name = records.sources.zone, guarded(records.sources.collector)
    for average in records.averages:
        told = _average(average, zone)
        for hour in average.hours:
            yield {"collector": name, **_hour(hour, zone), **told}


def _hour(hour: PermitHour, zone: tzinfo) -> Row:
    return {
        **_moments("begins", hour.start_utc_s, zone),
        "state": hour.state.value,
        "lacks": "" if hour.lack.value == "nothing" else hour.lack.value,
        "mean_inh2o": _figure(hour.mean_inh2o),
        "lowest_inh2o": _figure(hour.lowest_inh2o),
        "highest_inh2o": _figure(hour.highest_inh2o),
        "readings": hour.points,
        **{f"readings_q{number}": count for number, count in enumerate(hour.quarters, 1)},
        "first_reading_utc": _utc(hour.first_utc_s),
        "last_reading_utc": _utc(hour.last_utc_s),
        "left_out": hour.left_out,
        "worst_reason": "" if hour.worst.value == "none" else hour.worst.value,
        "operating_s": _seconds(hour.operating_s),
        **{f"ran_q{number}": ran.value for number, ran in enumerate(hour.ran, 1)},
        "maintenance": _yes(hour.is_maintenance),
        "picked_by_minutes": _yes(hour.by_minutes),
    }


def _average(average: Average, zone: tzinfo) -> Row:
    return {
        "average_begins": iso(average.start_utc_s, zone),
        "average_state": average.state.value,
        "average_inh2o": _figure(average.mean_inh2o),
        "average_outside": "" if average.beyond is None else average.beyond.value,
    }


def _yes(one: bool) -> str:
    return "yes" if one else "no"


def _tallies(records: Records, rows: Sequence[Tally], label: str) -> Iterator[Row]:
    least = records.sources.settings.least_available
    for row in rows:
        enough = row.is_enough(least)
        yield {
            "collector": guarded(records.sources.collector),
            label: row.label,
            "hours": row.hours,
            "operating_hours": row.operating,
            "valid_hours": row.valid,
            "invalid_hours": row.invalid,
            "not_operating_hours": row.not_operating,
            "hours_not_in_history": row.not_kept,
            "operating_s": _seconds(row.operating_s),
            "availability": _figure(row.available),
            "enough": "" if enough is None else _yes(enough),
            "mean_inh2o": _figure(row.mean_inh2o),
            "lowest_hour_inh2o": _figure(row.lowest_inh2o),
            "highest_hour_inh2o": _figure(row.highest_inh2o),
            "readings": row.points,
        }


def _excursions(records: Records) -> Iterator[Row]:
    zone = records.sources.zone
    for one in records.excursions:
        yield {
            "collector": guarded(records.sources.collector),
            **_span(one, zone),
            "operating_s": _seconds(one.operating_s),
            "side": one.side.value,
            "bound_inh2o": _figure(one.bound_inh2o),
            "worst_inh2o": _figure(one.worst_inh2o),
            "averages": one.averages,
            "cause": guarded(causes_told(one.entries)),
            "corrective_action": guarded("; ".join(entry.action for entry in one.entries)),
            "recorded_by": guarded("; ".join(entry.by for entry in one.entries)),
            "recorded_utc": "; ".join(_utc(entry.at_utc_s) for entry in one.entries),
            "alarms": guarded("; ".join(f"{alarm.tag} {_utc(alarm.span.start_utc_s)}" for alarm in one.alarms)),
        }


def _span(one: Excursion | Downtime, zone: tzinfo) -> Row:
    return {
        **_moments("begins", one.span.start_utc_s, zone),
        **_moments("ends", one.span.end_utc_s, zone),
        "duration_s": _seconds(one.span.length_s),
    }


def _downtimes(records: Records) -> Iterator[Row]:
    """A line for each cause of each incident, so that causes can be summed."""
    zone = records.sources.zone
    for number, one in enumerate(records.downtimes, 1):
        for why, seconds in one.causes:
            yield {
                "collector": guarded(records.sources.collector),
                "incident": number,
                **_span(one, zone),
                "cause": why.why.value,
                "cause_s": _seconds(seconds),
                "reason": reason(why.reason),
                "words": guarded(cause(why)),
                "recorded_cause": guarded("; ".join(entry.cause for entry in one.entries)),
                "recorded_action": guarded("; ".join(entry.action for entry in one.entries)),
                "recorded_by": guarded("; ".join(entry.by for entry in one.entries)),
            }


def _about(records: Records, printing: Printing) -> Iterator[Row]:
    sources = records.sources
    settings = sources.settings
    known = {
        "site": guarded(printing.site),
        "dp_tag": guarded(sources.dp_tag),
        "period_begins": iso(sources.period.start_utc_s, sources.zone),
        "period_ends": iso(sources.period.end_utc_s, sources.zone),
        "time_zone": printing.zone_name,
        "valid_hour": settings.valid_hour.value,
        "average_h": settings.average_h,
        "low_inh2o": _figure(settings.low_inh2o),
        "high_inh2o": _figure(settings.high_inh2o),
        "least_available": _figure(settings.least_available),
        "inch_of_water": printing.inch_of_water,
        "readings_sha256": records.readings_digest,
        "entries_sha256": records.entries_digest,
        "readings_by": guarded(export(sources, printing)),
        "version": printing.version,
        "printed": iso(printing.printed_utc_s, sources.zone),
    }
    for what, value in known.items():
        yield {"collector": guarded(sources.collector), "what": what, "value": value}
    for entry in records.loose:
        words = f"{_utc(entry.about_utc_s)}: cause {entry.cause}; action {entry.action} ({entry.by})"
        yield {"collector": guarded(sources.collector), "what": "recorded_elsewhere", "value": words}
    for note in notes(records, printing):
        yield {"collector": guarded(sources.collector), "what": "note", "value": note}
