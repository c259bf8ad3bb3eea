"""Wording, trend: the DP now, and whether it has risen or fallen, in the words of a message."""

import math

from monitor.tell.notation import duration, figure

#: A smaller change is called steady: so much of the unit, or this share of the value (our choice).
STEADY, STEADY_SHARE = 0.1, 0.02


def trend_words(
    value_now: float | None, value_then: float | None, minutes: float, unit: str, forecast: str = ""
) -> str:
    """``now 7.6 inH2O, up 0.3 in the last hour``, and what is expected.

    The parts are parted by commas, the most important first, so that a short message can leave out the last.

    Args:
        value_now: the newest trusted value; None where there is none, then nothing is said of it.
        value_then: the value ``minutes`` ago, measured at the same place of the sawtooth or averaged alike; None
            where it is not known.
        minutes: between the two, above 0.
        unit: of both.
        forecast: what is expected, as half a sentence without commas; empty for nothing.
    """
    if value_now is None or not math.isfinite(value_now):
        return forecast
    now = f"now {figure(_rounded(value_now))} {unit}".rstrip()
    return ", ".join(filter(None, (now, _change(value_now, value_then, minutes), forecast)))


def _change(now: float, then: float | None, minutes: float) -> str:
    if then is None or not math.isfinite(then) or not 0 < minutes < math.inf:
        return ""
    change = now - then
    if abs(change) < max(STEADY, STEADY_SHARE * abs(now)):
        return f"steady {_span(minutes)}"
    return f"{'up' if change > 0 else 'down'} {figure(_rounded(abs(change)))} {_span(minutes)}"


def _span(minutes: float) -> str:
    return "in the last hour" if round(minutes) == 60 else f"in the last {duration(60 * minutes)}"


def _rounded(value: float) -> float:
    """As many decimals as a gauge shows: one, and none from 100 on."""
    return round(value, 1) if abs(value) < 100 else round(value)
