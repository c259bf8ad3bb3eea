"""Notation: how a moment, a number and a length of time are written for others.

Machines get RFC 3339 in UTC with milliseconds and numbers of at most six significant digits; people get the
same figures without decimals that say nothing (7 inH2O, not 7.0000001 inH2O).
"""

import math
from datetime import UTC, datetime
from functools import lru_cache

_LAST_MOMENT_S = 253402300799.0  # 9999-12-31T23:59:59Z, where RFC 3339's four-digit year ends


def rfc3339(utc_s: float) -> str:
    """The moment as ``2026-03-01T08:12:03.250Z`` (RFC 3339 §5.6).

    Args:
        utc_s: Unix seconds; what lies outside the years 1970 to 9999 is drawn to the nearest of them, so that
            an absurd clock can never keep an event from being told.
    """
    second, millis = divmod(round(_sane(utc_s) * 1000), 1000)
    return f"{_to_the_second(second)}.{millis:03d}Z"


@lru_cache(maxsize=64)  # a thousand states a second are stamped with much the same seconds
def _to_the_second(utc_s: int) -> str:
    return f"{datetime.fromtimestamp(utc_s, UTC):%Y-%m-%dT%H:%M:%S}"


def moment(utc_s: float) -> str:
    """The moment for people: ``2026-03-01 08:12:03 UTC``."""
    return f"{datetime.fromtimestamp(int(_sane(utc_s)), UTC):%Y-%m-%d %H:%M:%S} UTC"


def number(value: float | None) -> float | None:
    """The number with six significant digits; None where there is none that JSON could carry."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.6g}")


def figure(value: float) -> str:
    """The number for people: at most two decimals, more only where a small number would vanish."""
    if not math.isfinite(value):
        return "no number"
    text = f"{value:.2f}" if abs(value) >= 0.1 or value == 0 else f"{value:.2g}"
    if "e" in text:
        return text
    return text.rstrip("0").rstrip(".") if "." in text else text


def duration(seconds: float) -> str:
    """The length of time for people: ``30 min``, ``1 h 30 min``, ``90 s`` stays ``90 s``."""
    if not math.isfinite(seconds):
        return "no known time"
    if seconds < 120:
        return f"{figure(seconds)} s"
    minutes, rest_s = divmod(round(seconds), 60)
    if minutes < 120:
        return f"{minutes} min" + (f" {rest_s} s" if rest_s and minutes < 10 else "")
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h" + (f" {minutes} min" if minutes else "")


def _sane(utc_s: float) -> float:
    return min(max(utc_s, 0.0), _LAST_MOMENT_S) if math.isfinite(utc_s) else 0.0
