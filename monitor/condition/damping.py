"""Damping: spikes of the cleaning pulses are taken out, and the rest is smoothed as a transmitter would.

First the median of the last samples, which a spike shorter than half of them cannot pass; then a first-order
lag by the time that really passed, so an uneven scan damps neither more nor less than an even one.
"""

from dataclasses import dataclass
from math import exp


@dataclass(frozen=True, slots=True)
class DampingState:
    """What damping remembers.

    Attributes:
        window: the latest samples, oldest first; empty where no median is set.
        damped: the latest output.
        at_s: when the latest sample was taken, scan clock.
    """

    window: tuple[float, ...]
    damped: float
    at_s: float


def advance(
    state: DampingState | None,
    value: float,
    at_s: float,
    *,
    median_samples: int | None,
    lag_s: float | None,
    restart_after_s: float,
) -> DampingState:
    """Feed one good sample; ``damped`` of the result is the output.

    The first sample is taken as it is. So is the first after more than ``restart_after_s`` without one:
    what the process did meanwhile is not known, and an old value must not lean on a new one.

    Args:
        state: of the sample before; None for the first.
        value: the sample, any unit, finite.
        at_s: when it was taken, scan clock.
        median_samples: how many samples the median is of; None for no median. While there are fewer, it is
            the median of those.
        lag_s: time constant of the lag, seconds; None for no lag.
        restart_after_s: the longest gap that is damped across.
    """
    if state is None or at_s - state.at_s > restart_after_s:
        return DampingState(() if median_samples is None else (value,), value, at_s)
    window: tuple[float, ...] = ()
    middle = value
    if median_samples is not None:
        window = (*state.window[1 - median_samples :], value) if median_samples > 1 else (value,)
        middle = _median(window)
    damped = middle if not lag_s else _lagged(state.damped, middle, (at_s - state.at_s) / lag_s)
    return DampingState(window, damped, at_s)


def _median(window: tuple[float, ...]) -> float:
    ordered = sorted(window)
    half = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[half]
    # From the lower one up, so that two equal samples give exactly themselves.
    return ordered[half - 1] + (ordered[half] - ordered[half - 1]) / 2


def _lagged(before: float, value: float, elapsed_lags: float) -> float:
    """The exact answer of a first-order lag to an input that stood at ``value`` since the sample before."""
    # A sample stamped no later than the one before moves nothing.
    return value + (before - value) * exp(-max(0.0, elapsed_lags))
