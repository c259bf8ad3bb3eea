"""Forecast: when the residual DP will reach the change-out limit, as an interval, and when to order."""

from enum import StrEnum
from typing import NamedTuple

from monitor.interpret.settings import FilterSettings
from monitor.interpret.trend.ageing import Ageing


class Outlook(StrEnum):
    """What can be said of the change-out."""

    NO_LIMIT = "no_limit"
    NOT_ENOUGH_DATA = "not_enough_data"
    NOT_RISING = "not_rising"
    EXPECTED = "expected"
    REACHED = "reached"


class Forecast(NamedTuple):
    """The state of the set of filters, and the date of its change-out as far as it can be told.

    Attributes:
        residual_inh2o: the residual DP now (corrected for flow where that is measured); None: not known yet.
        slope_inh2o_d, slope_low_inh2o_d, slope_high_inh2o_d: its rise per day of running and the interval of it.
        days: days of running that are known of the set.
        due_utc_s: the day in the middle; earliest and latest hold it with 80 %; None where it cannot be told
            (``latest`` alone None: the slow end of the slope never gets there).
        order_by_utc_s: the earliest day less the lead time.
        missing: what is missing, one plain phrase, where there is not enough data.
    """

    outlook: Outlook
    residual_inh2o: float | None = None
    slope_inh2o_d: float | None = None
    slope_low_inh2o_d: float | None = None
    slope_high_inh2o_d: float | None = None
    days: float = 0.0
    due_utc_s: float | None = None
    earliest_utc_s: float | None = None
    latest_utc_s: float | None = None
    order_by_utc_s: float | None = None
    missing: str = ""


def forecast(settings: FilterSettings, ageing: Ageing, utc_s: float) -> Forecast:
    """Look ahead from that moment (Unix seconds)."""
    del settings, ageing, utc_s
    return Forecast(Outlook.NOT_ENOUGH_DATA)
