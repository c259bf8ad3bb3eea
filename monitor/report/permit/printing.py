"""Printing: what a record says of itself: whose site it is, by which version it was made, and when."""

import math
from datetime import tzinfo
from typing import NamedTuple

from monitor.report.permit.local_days import local


class Printing(NamedTuple):
    """What every form of the records says of itself.

    Attributes:
        site: the site's name.
        file: the site file, as the person named it at the shell.
        version: of cakewatch.
        printed_utc_s: Unix seconds.
        inch_of_water: which inch every inH2O of this site is.
        zone_name: of the site's time zone.
    """

    site: str
    file: str
    version: str
    printed_utc_s: float
    inch_of_water: str
    zone_name: str


def stamp(utc_s: float, zone: tzinfo) -> str:
    """A moment on the site's clock, to the minute: ``2026-10-05 08:00 EDT``."""
    return f"{local(utc_s, zone):%Y-%m-%d %H:%M %Z}"


def iso(utc_s: float, zone: tzinfo) -> str:
    """The same for a machine, to the second and with its offset: ``2026-10-05T08:00:00-04:00``."""
    return local(utc_s, zone).isoformat(timespec="seconds")


def length(seconds: float) -> str:
    """A length of time in hours and minutes: ``1 h``, ``2 h 15 min``, ``30 h``, ``40 s``."""
    if 0 < seconds < 59.5:
        return f"{seconds:.0f} s"
    hours, minutes = divmod(round(seconds / 60), 60)
    words = [f"{hours:,} h"] if hours else []
    if minutes or not hours:
        words.append(f"{minutes} min")
    return " ".join(words)


def hours(seconds: float) -> str:
    """A length of time in hours with two decimals."""
    return f"{seconds / 3600:,.2f}"


def dp(value: float | None) -> str:
    """A DP with two decimals; a dash where there is none."""
    return "–" if value is None else f"{value:.2f}"


def percent(share: float | None) -> str:
    """A share with one decimal, rounded, but never up to the whole nor down to nothing; a dash for none."""
    if share is None:
        return "–"
    if 0 < share < 0.001:
        return "<0.1 %"
    rounded = math.floor(share * 1000 + 0.5 + 1e-9) / 10
    return f"{min(rounded, 99.9) if share < 1 else rounded:.1f} %"


def least(share: float) -> str:
    """A share that is asked for: ``75 %``."""
    return f"{100 * share:g} %"


def count(number: int, thing: str) -> str:
    """``1 hour``, ``3 hours``, ``no hour``."""
    if number == 0:
        return f"no {thing}"
    return f"{number:,} {thing}" + ("" if number == 1 else "s")
