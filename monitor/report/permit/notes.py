"""Notes: by which rules the figures came about, what they rest on, and what they are not."""

import shlex
from collections.abc import Iterator

from monitor.report.permit.hour import HourState, Ran
from monitor.report.permit.local_days import local
from monitor.report.permit.printing import Printing, count, iso, least, percent, stamp
from monitor.report.permit.records import Records
from monitor.report.permit.settings import ValidHour
from monitor.report.permit.sources import Sources
from monitor.report.permit.wording import RULES

_DAY_S = 86400.0
#: 40 CFR 64.8, from memory; the same 5 % of operating time in 63.1181(d).
PLAN_SHARE = 0.05

CAUTION = (
    "The permit decides: which indicator, range, average and rule apply, what counts as operation, and whether an "
    "excursion is a deviation. This is a record of readings and no legal advice; an excursion does not by itself "
    "mean a violation."
)


def notes(records: Records, printing: Printing) -> tuple[str, ...]:
    """All that must be known before anybody signs."""
    sources = records.sources
    return (
        *_rules(sources),
        *_operation(records),
        *_maintenance(records),
        *_reach(sources),
        *_hints(records),
        *_clock(sources, printing),
        *_trace(records, printing),
        CAUTION,
    )


def brief(records: Records, printing: Printing) -> tuple[str, ...]:
    """What is peculiar to these records, and the caution: for a terminal. The other forms have all ``notes``."""
    return (*_unread(records), *_reach(records.sources), *_hints(records), *_trace(records, printing), CAUTION)


def _rules(sources: Sources) -> Iterator[str]:
    settings = sources.settings
    yield (
        f"An hour is valid by {RULES[settings.valid_hour]}. Its average is the mean of its good readings; "
        "uncertain and bad readings are left out."
    )
    share = (
        "every operating hour in it is valid (40 CFR 63.1965)"
        if settings.valid_hour is ValidHour.THREE_QUARTERS
        else f"at least {least(settings.least_available)} of its operating hours are valid"
    )
    if settings.average_h > 1:
        yield (
            f"Averages are the mean of the valid hourly averages of {settings.average_h} h blocks, counted off "
            f"from local midnight by the wall clock; one counts if {share}."
        )
    if settings.low_inh2o is None and settings.high_inh2o is None:
        yield "The site file gives no indicator range (permit.low, permit.high): nothing is called an excursion."
    else:
        yield (
            "An excursion (40 CFR 64.1) is one average or several in a row outside the range on the same side; an "
            "average on the bound itself is inside. One that does not count ends it."
        )
    yield (
        "Monitor downtime is counted by quarters of an hour of operation without one good reading; its ends are "
        "set to the nearest good readings where the hour's row tells them."
    )


def _operation(records: Records) -> Iterator[str]:
    if records.sources.fan_hours is None:
        yield (
            "No point tells whether the unit operates (the site file has no fan_running for it): all hours are "
            "counted as operating hours."
        )
        return
    yield (
        "The unit operates while its fan runs; a quarter of an hour counts from one whole minute of running on. "
        "Where the fan could not be read, the time counts as operation."
    )
    yield from _unread(records)
    coarse = sum(
        0.0 < hour.operating_s < 3600.0 and not hour.by_minutes and hour.points > 0 for hour in records.hours
    )
    if coarse:
        yield (
            f"Of {count(coarse, 'hour')} of partial operation the minutes are no longer kept: their averages are "
            "of the whole hour, with the readings of the standing unit."
        )


def _unread(records: Records) -> Iterator[str]:
    if records.sources.fan_hours is None:
        return
    unknown = sum(Ran.NOT_KNOWN in hour.ran for hour in records.hours if hour.state is not HourState.NOT_KEPT)
    if unknown:
        yield (
            f"In {count(unknown, 'hour')} the fan could not be read for a quarter of an hour or more: that time "
            "counts as operation."
        )


def _maintenance(records: Records) -> Iterator[str]:
    if records.sources.maintenance:
        yield (
            "While the bad-signal alarm of this collector is out of service, its monitor counts as under "
            "maintenance: readings of that time are in no average (40 CFR 60.13(h)(2)(vi))."
        )
    coarse = sum(hour.is_maintenance and hour.points > 0 and not hour.by_minutes for hour in records.hours)
    if coarse:
        yield (
            f"Of {count(coarse, 'hour')} of maintenance the minutes are no longer kept: their averages still hold "
            "the readings taken during it."
        )


def _reach(sources: Sources) -> Iterator[str]:
    asked = f"The permit asks for {_years(sources.settings.keep_s)}"
    if sources.known_from_utc_s is None:
        yield f"{asked}; the history holds no hour of {sources.dp_tag} at all."
    else:
        since = stamp(sources.known_from_utc_s, sources.zone)
        yield f"{asked} of records; the history of {sources.dp_tag} goes back to {since}."
        if sources.known_from_utc_s > sources.period.start_utc_s:
            yield (
                "The hours before that are marked as not in the history, and nothing is counted of them: whoever "
                "has other records of that time must add them."
            )
    if sources.keeps_s is not None and sources.keeps_s < sources.settings.keep_s:
        yield (
            f"The site file lets the store drop hours after {_years(sources.keeps_s)} (store), which is shorter: "
            "keep these printings, or let it keep hours longer."
        )
    if sources.told_from_utc_s is None or sources.told_from_utc_s > sources.period.start_utc_s:
        since = "is empty" if sources.told_from_utc_s is None else f"begins {_told(sources)}"
        yield f"The journal {since}: causes, actions, alarms and stops of cakewatch before that are not known."


def _told(sources: Sources) -> str:
    return stamp(sources.told_from_utc_s or 0.0, sources.zone)


def _years(seconds: float) -> str:
    days = seconds / _DAY_S
    return f"{days / 365.25:.3g} years" if days >= 364 else count(round(days), "day")


def _hints(records: Records) -> Iterator[str]:
    share = records.share_of_operation(records.excursion_s)
    if share is not None and share > PLAN_SHARE:
        yield (
            f"Excursions took {percent(share)} of the operating time. Above 5 % a quality improvement plan may be "
            "required (40 CFR 64.8; the same figure in 63.1181(d) for a half year); the permit decides."
        )
    settings = records.sources.settings
    days = [day for day in records.days if day.operating]
    enough = sum(day.is_enough(settings.least_available) is True for day in days)
    if days:
        yield (
            f"On {enough} of {count(len(days), 'day')} of operation ({percent(enough / len(days))}) at least "
            f"{least(settings.least_available)} of the operating hours were valid; 40 CFR 60.1825 asks for that "
            "on 90 % of the days of a quarter."
        )


def _clock(sources: Sources, printing: Printing) -> Iterator[str]:
    offset = local(sources.period.start_utc_s, sources.zone).utcoffset()
    aligned = offset is None or offset.total_seconds() % 3600 == 0
    yield (
        f"Days and months are those of {printing.zone_name}; where the clocks change a day has 23 or 25 hours."
        + ("" if aligned else " Hours are those of UTC, and so do not begin on this clock's full hours.")
    )


def _trace(records: Records, printing: Printing) -> Iterator[str]:
    yield (
        "Every hourly average says how many good readings it is made of, the first and the last of them. "
        f"To see the readings: {export(records.sources, printing)}"
    )
    yield (
        f"Digest of the readings (SHA-256): {records.readings_digest}. Digest of what people entered: "
        f"{records.entries_digest}. Two printings with the same digests rest on the same rows."
    )


def export(sources: Sources, printing: Printing) -> str:
    """The command line that writes the readings of the period."""
    since, until = (iso(one, sources.zone) for one in sources.period)
    name, file = shlex.quote(sources.collector), shlex.quote(printing.file)
    return f"cakewatch export {file} --collector {name} --point dp --since {since} --until {until} --csv -"


def record(sources: Sources, printing: Printing, about_utc_s: float) -> str:
    """The command line that records a cause and an action."""
    name, file = shlex.quote(sources.collector), shlex.quote(printing.file)
    at = iso(about_utc_s, sources.zone)
    return f'cakewatch record-action {file} {name} --at {at} --cause "…" --action "…"'
