"""Forecast: when the residual DP will reach the change-out limit, as an interval, and when to order."""

from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

from monitor.interpret.settings import DAY_S, FilterSettings
from monitor.interpret.trend.ageing import Ageing
from monitor.interpret.trend.flow import told_by
from monitor.interpret.trend.look_ahead import Ahead, look_ahead
from monitor.interpret.trend.recent import level_now, slope_now
from monitor.interpret.trend.series import Shown, points, running_share

MONTH_D = 365.25 / 12
#: A trend is told from so many days of running on; two weeks hold two weekends.
LEAST_DAYS = 14
#: The limit is reached when the residual DP stood at or above it on so many of the last days.
REACHED_DAYS, OF_DAYS = 4, 5


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

    @property
    def slope_inh2o_month(self) -> float | None:
        """The rise per month of running (a twelfth of a year of days), for people; None where it is not known."""
        return None if self.slope_inh2o_d is None else self.slope_inh2o_d * MONTH_D


def forecast(settings: FilterSettings, ageing: Ageing, utc_s: float) -> Forecast:
    """Look ahead from that moment (Unix seconds)."""
    factor = told_by(settings, ageing.flow)
    share = running_share(ageing.days, ageing.meter.run_s, utc_s)
    age_d = _age_d(ageing, share)
    begin_d = ageing.begin_run_d - age_d
    seen = [Shown(day.run_d - begin_d, day.level * factor, day.utc_d) for day in points(ageing.days)]
    now_d = max(ageing.meter.run_s / DAY_S - begin_d, seen[-1].run_d if seen else 0.0)
    told = _told(seen, now_d)._replace(days=now_d - age_d)
    limit = settings.change_out_inh2o
    if limit is None:
        return told._replace(outlook=Outlook.NO_LIMIT)
    if _reached(seen, limit):
        return told._replace(outlook=Outlook.REACHED, due_utc_s=utc_s, earliest_utc_s=utc_s, order_by_utc_s=utc_s)
    if len(seen) < LEAST_DAYS:
        return told._replace(missing=_missing(ageing, len(seen)))
    return _dated(settings, told, look_ahead(seen, now_d, limit), utc_s, share)


def _age_d(ageing: Ageing, share: float) -> float:
    """Days for which the set had run before its trend begins, as far as its date tells."""
    if ageing.since_utc_s is None or not ageing.days:
        return 0.0
    first = ageing.days[0]
    return max((first.utc_d - ageing.since_utc_s / DAY_S) * share - (first.run_d - ageing.begin_run_d), 0.0)


def _told(seen: Sequence[Shown], now_d: float) -> Forecast:
    """What can be said without a limit."""
    slope = slope_now(seen) if seen else None
    if slope is None:
        level = seen[-1].level if seen else None
        return Forecast(Outlook.NOT_ENOUGH_DATA, residual_inh2o=level)
    level = level_now(seen, slope.middle, now_d)
    return Forecast(Outlook.NOT_ENOUGH_DATA, level, slope.middle, slope.low, slope.high)


def _reached(seen: Sequence[Shown], limit: float) -> bool:
    return sum(day.level >= limit for day in seen[-OF_DAYS:]) >= REACHED_DAYS


def _missing(ageing: Ageing, days: int) -> str:
    """What is missing, for people."""
    left = LEAST_DAYS - days
    more = f"{left} more day{'s' if left > 1 else ''} of running"
    if ageing.fell_utc_s is not None:
        return f"{more}, because the residual DP fell without a stop (a torn bag, or new filters nobody told of)"
    if not ageing.days and ageing.meter.last_s is not None and not ageing.meter.run_s:
        return f"{more}: the fan has not been seen to run"
    return more


def _dated(settings: FilterSettings, told: Forecast, ahead: Ahead, utc_s: float, share: float) -> Forecast:
    """Put the days that remain on the calendar."""
    # A date from shapes alone would be told where no rise stands out from the scatter of the days.
    if ahead.middle_d is None or ahead.earliest_d is None or (told.slope_low_inh2o_d or 0.0) <= 0.0:
        return told._replace(outlook=Outlook.NOT_RISING)

    def date(days: float) -> float:
        return utc_s + days / share * DAY_S

    earliest_utc_s = date(ahead.earliest_d)
    return told._replace(
        outlook=Outlook.EXPECTED,
        due_utc_s=date(ahead.middle_d),
        earliest_utc_s=earliest_utc_s,
        latest_utc_s=None if ahead.latest_d is None else date(ahead.latest_d),
        order_by_utc_s=earliest_utc_s - settings.lead_time_s,
    )
