"""Durations and sizes: ``90 s``, ``30 min``, ``500 MB``, read and written."""

from typing import Any

from monitor.condition import units
from monitor.site.quantities import canonical, split
from monitor.site.values import UnfitError, meant

SECONDS_PER = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
MEGABYTES_PER = {"kB": 1e-3, "MB": 1.0, "GB": 1e3}


def duration(value: Any, low_s: float, high_s: float, never: str = "") -> float:
    """Return seconds, from ``low_s`` to ``high_s``; the file says ms, s, min, h or d."""
    choice = f", or {never}" if never else ""
    wanted = f"must be a duration from {as_duration(low_s)} to {as_duration(high_s)}{choice}"
    size, unit = split(value, wanted)
    if unit.startswith(":"):
        raise UnfitError(wanted, "a time of day is no duration")
    seconds = size * SECONDS_PER[canonical(unit, units.Kind.DURATION, wanted)]
    if not low_s <= seconds <= high_s:
        raise UnfitError(wanted)
    return seconds


def megabytes(value: Any, low: int, high: int) -> int:
    """Return whole megabytes of 1,000,000 bytes; the file says kB, MB or GB."""
    wanted = f"must be a size from {low} MB to {high // 1000} GB"
    size, unit = split(value, wanted)
    if unit not in MEGABYTES_PER:
        raise UnfitError(wanted, meant(unit, MEGABYTES_PER) if unit else "it has no unit")
    if not low <= size * MEGABYTES_PER[unit] <= high:
        raise UnfitError(wanted)
    return round(size * MEGABYTES_PER[unit])


def as_duration(seconds: float) -> str:
    """Return a duration as a person writes it, in the largest unit that leaves it a whole number."""
    for unit in ("d", "h", "min"):
        if seconds >= SECONDS_PER[unit] and seconds % SECONDS_PER[unit] == 0:
            return f"{seconds / SECONDS_PER[unit]:g} {unit}"
    return f"{seconds:g} s"
