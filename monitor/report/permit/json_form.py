"""JSON form: the records of one collector for a program; moments in Unix seconds, numbers in inH2O and seconds.

Every hour is there with the rows it rests on, so that whoever reads this can work out each figure again.
"""

from typing import Any

from monitor.report.permit.downtime import Downtime
from monitor.report.permit.excursions import Excursion
from monitor.report.permit.hour import PermitHour
from monitor.report.permit.notes import notes
from monitor.report.permit.printing import Printing
from monitor.report.permit.records import Records
from monitor.report.permit.sources import Entry
from monitor.report.permit.tally import Tally
from monitor.report.permit.wording import cause

Shown = dict[str, Any]


def as_json(records: Records, printing: Printing) -> Shown:
    """All of the records, as what ``json.dumps`` takes."""
    sources = records.sources
    settings = sources.settings
    return {
        "site": printing.site,
        "collector": sources.collector,
        "dp_tag": sources.dp_tag,
        "version": printing.version,
        "printed_utc_s": printing.printed_utc_s,
        "period": {"begins_utc_s": sources.period.start_utc_s, "ends_utc_s": sources.period.end_utc_s},
        "time_zone": printing.zone_name,
        "permit": {
            "valid_hour": settings.valid_hour.value,
            "average_h": settings.average_h,
            "low_inh2o": settings.low_inh2o,
            "high_inh2o": settings.high_inh2o,
            "least_available": settings.least_available,
            "keep_s": settings.keep_s,
        },
        "history_from_utc_s": sources.known_from_utc_s,
        "journal_from_utc_s": sources.told_from_utc_s,
        "readings_sha256": records.readings_digest,
        "entries_sha256": records.entries_digest,
        "total": {
            **_tally(records.whole),
            "excursion_s": records.excursion_s,
            "excursion_share": records.share_of_operation(records.excursion_s),
            "downtime_s": records.downtime_s,
            "downtime_share": records.share_of_operation(records.downtime_s),
        },
        "months": [_tally(row) for row in records.months],
        "days": [_tally(row) for row in records.days],
        "hours": [_hour(hour) for hour in records.hours],
        "averages": [
            {
                "begins_utc_s": one.start_utc_s,
                "ends_utc_s": one.end_utc_s,
                "state": one.state.value,
                "mean_inh2o": one.mean_inh2o,
                "outside": None if one.beyond is None else one.beyond.value,
            }
            for one in records.averages
        ],
        "excursions": [_excursion(one) for one in records.excursions],
        "downtime": [_downtime(one) for one in records.downtimes],
        "other_entries": [_entry(one) for one in records.loose],
        "notes": list(notes(records, printing)),
    }


def _tally(row: Tally) -> Shown:
    return {
        "label": row.label,
        "hours": row.hours,
        "operating_hours": row.operating,
        "valid_hours": row.valid,
        "invalid_hours": row.invalid,
        "not_operating_hours": row.not_operating,
        "hours_not_in_history": row.not_kept,
        "operating_s": row.operating_s,
        "availability": row.available,
        "mean_inh2o": row.mean_inh2o,
        "lowest_hour_inh2o": row.lowest_inh2o,
        "highest_hour_inh2o": row.highest_inh2o,
        "readings": row.points,
    }


def _hour(hour: PermitHour) -> Shown:
    return {
        "begins_utc_s": hour.start_utc_s,
        "state": hour.state.value,
        "lacks": hour.lack.value,
        "mean_inh2o": hour.mean_inh2o,
        "lowest_inh2o": hour.lowest_inh2o,
        "highest_inh2o": hour.highest_inh2o,
        "quarters": list(hour.quarters),
        "first_utc_s": hour.first_utc_s,
        "last_utc_s": hour.last_utc_s,
        "left_out": hour.left_out,
        "worst": hour.worst.value,
        "ran": [one.value for one in hour.ran],
        "operating_s": hour.operating_s,
        "maintenance": hour.is_maintenance,
        "by_minutes": hour.by_minutes,
    }


def _excursion(one: Excursion) -> Shown:
    return {
        **_span(one),
        "operating_s": one.operating_s,
        "side": one.side.value,
        "bound_inh2o": one.bound_inh2o,
        "worst_inh2o": one.worst_inh2o,
        "averages": one.averages,
        "recorded": [_entry(entry) for entry in one.entries],
        "alarms": [
            {"tag": alarm.tag, "occurrence": alarm.occurrence, "raised_utc_s": alarm.span.start_utc_s}
            for alarm in one.alarms
        ],
    }


def _downtime(one: Downtime) -> Shown:
    return {
        **_span(one),
        "causes": [
            {"why": why.why.value, "reason": why.reason.value, "words": cause(why), "seconds": seconds}
            for why, seconds in one.causes
        ],
        "recorded": [_entry(entry) for entry in one.entries],
    }


def _span(one: Excursion | Downtime) -> Shown:
    begins, ends = one.span
    return {"begins_utc_s": begins, "ends_utc_s": ends, "duration_s": one.span.length_s}


def _entry(one: Entry) -> Shown:
    return dict(one._asdict())
