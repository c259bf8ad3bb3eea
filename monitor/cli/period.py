"""Period: moments and lengths of time as a person writes them at the shell, and the time between two of them."""

from collections.abc import Callable
from datetime import UTC, datetime

import click

from monitor.site.durations import as_duration, duration
from monitor.site.values import UnfitError

_LONGEST_S = 20 * 365 * 86400.0

#: Reads an option: context, parameter, what was written.
Callback = Callable[[click.Context, click.Parameter, str | None], float | None]


def moment(_context: click.Context, _parameter: click.Parameter, value: str | None) -> float | None:
    """Unix seconds of an ISO 8601 date or time; without an offset it is UTC."""
    if value is None:
        return None
    try:
        at = datetime.fromisoformat(value)
        return (at if at.tzinfo else at.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError):
        raise click.BadParameter(
            f"must be a date or a time such as 2026-03-01, 2026-03-01T06:00 (UTC) or 2026-03-01T06:00-05:00, "
            f"not {value!r}"
        ) from None


def length_from(shortest_s: float) -> Callback:
    """What reads a duration as the site file writes it, as seconds, no shorter than that."""

    def length(_context: click.Context, _parameter: click.Parameter, value: str | None) -> float | None:
        try:
            return None if value is None else duration(value, shortest_s, _LONGEST_S)
        except UnfitError:
            raise click.BadParameter(
                f"must be a duration from {as_duration(shortest_s)} to {as_duration(_LONGEST_S)}, such as 7d or "
                f"12h, not {value!r}"
            ) from None

    return length


length = length_from(60.0)


def period(
    since_utc_s: float | None, until_utc_s: float | None, last_s: float | None, *, now_utc_s: float, usual_s: float
) -> tuple[float, float]:
    """From when until when, Unix seconds; ``usual_s`` long and up to now where nothing else is said.

    Raises:
        click.UsageError: it has two beginnings, or ends before it begins.
    """
    if since_utc_s is not None and last_s is not None:
        raise click.UsageError("--since and --last both say where the period begins: give one of them.")
    end_utc_s = now_utc_s if until_utc_s is None else until_utc_s
    if since_utc_s is None:
        since_utc_s = end_utc_s - (usual_s if last_s is None else last_s)
    if since_utc_s >= end_utc_s:
        raise click.UsageError("The period ends before it begins: --until must be later than --since.")
    return since_utc_s, end_utc_s
