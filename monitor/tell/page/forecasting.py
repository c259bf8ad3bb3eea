"""Forecasting: what is known of the life of one collector's filters, in one sentence."""

from monitor.interpret.curve import CurveState
from monitor.interpret.settings import CurveSettings
from monitor.interpret.trend.forecast import Outlook
from monitor.tell.notation import figure, rfc3339


def forecast_sentence(settings: CurveSettings, read: CurveState) -> str | None:
    """When the set is to be changed, as far as it can be told; None where there is nothing to say.

    Days are those of UTC: a forecast is a matter of weeks.
    """
    outlook, limit = read.outlook, settings.filters.change_out_inh2o
    match outlook.outlook:
        case Outlook.NO_LIMIT:
            return None
        case Outlook.NOT_ENOUGH_DATA:
            return f"No forecast for the filters yet{': ' if outlook.missing else ''}{outlook.missing}."
        case Outlook.NOT_RISING:
            return "The residual DP does not rise: no change-out date."
        case Outlook.REACHED:
            return f"The residual DP has reached the change-out limit of {figure(limit or 0.0)} inH2O."
        case Outlook.EXPECTED:
            latest = "" if outlook.latest_utc_s is None else f" to {_day(outlook.latest_utc_s)}"
            between = f" (80 %: {_day(outlook.earliest_utc_s)}{latest or ' or later'})"
            order = "" if outlook.order_by_utc_s is None else f"; order by {_day(outlook.order_by_utc_s)}"
            return f"Filters due about {_day(outlook.due_utc_s)}{between}{order}."


def _day(utc_s: float | None) -> str:
    return "an unknown day" if utc_s is None else rfc3339(utc_s)[:10]
