"""Trend settings: over how long a residual DP and a running average are taken."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendSettings:
    """Windows of scan time, seconds, 60 to 86400.

    Attributes:
        residual_window_s: the residual DP is the lowest damped DP in this window; it should hold at least one
            whole cleaning cycle.
        average_window_s: the running average is over this window.
    """

    residual_window_s: float = 3600.0
    average_window_s: float = 3600.0
