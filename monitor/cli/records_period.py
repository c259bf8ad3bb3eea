"""Records period: which days a person means by a month, a year, or two dates on the site's clock."""

import re
from datetime import date, tzinfo

import click

from monitor.judge.performance.span import Span
from monitor.report.permit.hour import HOUR_S
from monitor.report.permit.local_days import local, midnight, month, year

_FIRST_YEAR, _LAST_YEAR = 1971, 9998


def chosen_month(
    _context: click.Context, _parameter: click.Parameter, value: str | None
) -> tuple[int, int] | None:
    """Year and month of ``2026-10``."""
    if value is None:
        return None
    found = re.fullmatch(r"(\d{4})-(\d{1,2})", value.strip())
    numbers = (int(found[1]), int(found[2])) if found else (0, 0)
    if not (_FIRST_YEAR <= numbers[0] <= _LAST_YEAR and 1 <= numbers[1] <= 12):
        raise click.BadParameter(f"must be a month such as 2026-10, not {value!r}")
    return numbers


def chosen_day(_context: click.Context, _parameter: click.Parameter, value: str | None) -> date | None:
    """A day on the site's clock."""
    if value is None:
        return None
    try:
        found = date.fromisoformat(value.strip())
    except ValueError:
        found = None
    if found is None or not _FIRST_YEAR <= found.year <= _LAST_YEAR:
        raise click.BadParameter(
            f"must be a date such as 2026-10-01 (records are of whole days on the site's clock), not {value!r}"
        )
    return found


def period(
    of_month: tuple[int, int] | None,
    of_year: int | None,
    since: date | None,
    until: date | None,
    now_utc_s: float,
    zone: tzinfo,
) -> Span:
    """From the begin of a local day to that of another, but to the last full hour that is over at the most.

    Without any choice it is the month before this one: what is usually printed.

    Raises:
        click.UsageError: two choices, an end before its begin, or nothing of it is over yet.
    """
    if sum(one is not None for one in (of_month, of_year, since if since is not None else until)) > 1:
        raise click.UsageError("--month, --year and --since/--until each say the period: give one of them.")
    asked = _asked(of_month, of_year, since, until, now_utc_s, zone)
    if asked.length_s <= 0:
        raise click.UsageError("The period ends before it begins: --until must be a later day than --since.")
    over_utc_s = now_utc_s // HOUR_S * HOUR_S
    if asked.start_utc_s + HOUR_S > over_utc_s:
        raise click.UsageError("No hour of this period is over yet: there is nothing to record of it.")
    return Span(asked.start_utc_s, min(asked.end_utc_s, over_utc_s))


def _asked(
    of_month: tuple[int, int] | None,
    of_year: int | None,
    since: date | None,
    until: date | None,
    now_utc_s: float,
    zone: tzinfo,
) -> Span:
    if of_month is not None:
        return month(*of_month, zone)
    if of_year is not None:
        return year(of_year, zone)
    if since is not None or until is not None:
        if since is None:
            raise click.UsageError("--until needs --since: the day on which the period begins.")
        return Span(midnight(since, zone), now_utc_s if until is None else midnight(until, zone))
    today = local(now_utc_s, zone).date()
    before = (today.year, today.month - 1) if today.month > 1 else (today.year - 1, 12)
    return month(*before, zone)
