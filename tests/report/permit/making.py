"""Making: rows of a history out of single readings, and sources out of rows, for the tests of the records."""

from collections import defaultdict
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from monitor.judge.performance.span import Span
from monitor.report.permit import picking
from monitor.report.permit.settings import PermitSettings
from monitor.report.permit.sources import Sources
from monitor.words import HistoryRow, HourRow, Reason

NEW_YORK = ZoneInfo("America/New_York")
UTC_ZONE = ZoneInfo("UTC")
#: Monday, 5 October 2026, 12:00 UTC: 08:00 in New York.
H0 = int(datetime(2026, 10, 5, 12, tzinfo=UTC).timestamp())


def at(text, zone=NEW_YORK):
    """Unix seconds of a moment on the site's clock."""
    return datetime.fromisoformat(text).replace(tzinfo=zone).timestamp()


def full_hour(start_utc_s, mean=3.0, each=900, bad=0, worst=Reason.NONE, **more):
    """An hour with a reading a second: all good, or as the quarters say."""
    quarters = more.pop("quarters", (each,) * 4)
    good = sum(quarters)
    filled = [number for number, count in enumerate(quarters) if count]
    first = start_utc_s + filled[0] * 900.0 if filled else None
    last = start_utc_s + filled[-1] * 900.0 + 899.0 if filled else None
    return HourRow(
        start_utc_s=start_utc_s,
        last=mean if good else None,
        lowest=mean if good else None,
        highest=mean if good else None,
        mean=mean if good else None,
        good=good,
        uncertain=0,
        bad=bad,
        worst=worst,
        quarters=quarters,
        first_good_utc_s=more.pop("first", first),
        last_good_utc_s=more.pop("last", last),
    )


def rows_of(readings, step_s):
    """The rows that single readings come to: (Unix seconds, value; None where bad), in the order of time."""
    steps = defaultdict(list)
    for utc_s, value in readings:
        steps[int(utc_s // step_s * step_s)].append((utc_s, value))
    return [_row(start, some, step_s) for start, some in sorted(steps.items())]


def _row(start, some, step_s):
    good = [(utc_s, value) for utc_s, value in some if value is not None]
    values = [value for _, value in good]
    common = {
        "start_utc_s": start,
        "last": values[-1] if values else None,
        "lowest": min(values, default=None),
        "highest": max(values, default=None),
        "mean": sum(values) / len(values) if values else None,
        "good": len(values),
        "uncertain": 0,
        "bad": len(some) - len(good),
        "worst": Reason.NONE if len(good) == len(some) else Reason.NO_ANSWER,
    }
    if step_s != 3600:
        return HistoryRow(**common)
    return HourRow(
        **common,
        quarters=tuple(sum(1 for utc_s, _ in good if (utc_s - start) // 900 == number) for number in range(4)),
        first_good_utc_s=good[0][0] if good else None,
        last_good_utc_s=good[-1][0] if good else None,
    )


def sources(hours, start_utc_s, end_utc_s, settings=None, zone=UTC_ZONE, **more):
    hours = list(hours)
    known = hours[0].start_utc_s if hours else None
    return Sources(
        collector="DC-101",
        dp_tag="PDT-101",
        period=Span(start_utc_s, end_utc_s),
        zone=zone,
        settings=settings or PermitSettings(),
        hours=hours,
        **{"known_from_utc_s": known, **more},
    )


def of_readings(dp, fan=None, hours=1, start=H0, maintenance=(), **more):
    """Sources of so many hours as a store would give them: minutes only for the hours that ask for them."""
    period = Span(start, start + hours * 3600)
    dp_hours = rows_of(dp, 3600)
    fan_hours = None if fan is None else rows_of(fan, 3600)
    split = set(picking.to_split(period, dp_hours, fan_hours, [one.span for one in maintenance]))

    def of_split(readings):
        return [row for row in rows_of(readings, 60) if row.start_utc_s // 3600 * 3600 in split]

    return sources(
        dp_hours,
        *period,
        fan_hours=fan_hours,
        minutes=of_split(dp),
        fan_minutes=of_split(fan or ()),
        maintenance=maintenance,
        **{"known_from_utc_s": start, **more},
    )


def minute(number, second=0, start=H0):
    return start + number * 60 + second
