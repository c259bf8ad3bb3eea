"""Chart axis: round numbers and round moments to write at the edges of a chart."""

from datetime import UTC, datetime
from math import ceil, floor, log10

_MINUTE, _HOUR, _DAY = 60.0, 3600.0, 86400.0
_TIME_STEPS_S = (
    *(1.0, 2.0, 5.0, 10.0, 15.0, 30.0),
    *(_MINUTE * one for one in (1, 2, 5, 10, 15, 30)),
    *(_HOUR * one for one in (1, 2, 3, 6, 12)),
    *(_DAY * one for one in (1, 2, 4, 7, 14, 28, 56, 91, 182, 364)),
)


def value_ticks(low: float, high: float, most: int) -> list[float]:
    """Round values from ``low`` to ``high``, about ``most`` of them (1, 2 or 5 times a power of ten apart)."""
    rough = max((high - low) / most, 1e-9)
    power = 10.0 ** floor(log10(rough))
    step = power * next(one for one in (1, 2, 5, 10) if one * power >= rough)
    first = ceil(low / step - 1e-9)
    return [number * step for number in range(first, floor(high / step + 1e-9) + 1)]


def time_ticks(begins_utc_s: float, ends_utc_s: float, most: int) -> list[tuple[float, str]]:
    """Round moments in UTC and what to write there, ``most`` of them at the most (or so)."""
    rough_s = (ends_utc_s - begins_utc_s) / max(1, most)
    step_s = next((one for one in _TIME_STEPS_S if one >= rough_s), _TIME_STEPS_S[-1])
    first = ceil(begins_utc_s / step_s)
    return [(at * step_s, _label(at * step_s, step_s)) for at in range(first, floor(ends_utc_s / step_s) + 1)]


def _label(utc_s: float, step_s: float) -> str:
    moment = datetime.fromtimestamp(utc_s, UTC)
    if step_s >= _DAY or (step_s >= _HOUR and utc_s % _DAY == 0):
        return f"{moment.day} {moment:%b}"
    return f"{moment:%H:%M:%S}" if step_s < _MINUTE else f"{moment:%H:%M}"
