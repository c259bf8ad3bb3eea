"""Rehearsal reading: what the curve of one collector said by the end of the data, in plain lines."""

from collections.abc import Iterator
from datetime import UTC, datetime

from monitor.interpret.air.figures import Use, air_figures
from monitor.interpret.curve import CurveState
from monitor.interpret.settings import CurveSettings
from monitor.interpret.trend.forecast import Forecast, Outlook
from monitor.report.rehearsal import CollectorStory, Raising
from monitor.report.rehearsal_words import count, duration
from monitor.report.trouble_names import NAMES
from monitor.troubles import Suspicion

_MONTH_D = 365.25 / 12


def lines(story: CollectorStory) -> Iterator[str]:
    """Yield the lines about one collector; none where its curve was not read."""
    read, settings = story.read, story.reading
    if read is None or settings is None:
        return
    yield f"{story.name}: {_cycles(read)}"
    yield f"{story.name}: {_filters(settings, read.outlook)}"
    if air := _air(settings, read):
        yield f"{story.name}: {air}"
    for sign, clue in read.signs:
        figures = "" if clue.value is None or not clue.unit else f" ({clue.value:.3g} {clue.unit})"
        yield f"{story.name}: early warning at the end of the data: {sign.value.replace('_', ' ')}{figures}"


def behind(one: Raising) -> str:
    """What may be behind one raising, the likeliest first; a dash where the evidence does not tell."""
    return ", or ".join(map(_named, one.suspicions)) or "–"


def _named(suspicion: Suspicion) -> str:
    return f"{NAMES[suspicion.trouble]} ({suspicion.share:.0%})"


def _cycles(read: CurveState) -> str:
    last = read.tracker.last
    if last is None:
        return "no cleaning cycle was found"
    cycle = "" if last.cycle_s is None else f", a cycle of {duration(last.cycle_s)}"
    return (
        f"{count(read.cycles, 'cleaning cycle')}; the last from {last.peak_inh2o:.2f} down to "
        f"{last.residual_inh2o:.2f} inH2O in {duration(last.cleaning_s)}{cycle}"
    )


def _filters(settings: CurveSettings, outlook: Forecast) -> str:
    match outlook.outlook:
        case Outlook.NO_LIMIT:
            return f"filters: {_rise(outlook)}; without a change-out limit in the site file there is no forecast"
        case Outlook.NOT_ENOUGH_DATA:
            return f"filters: not enough data for a forecast{': ' if outlook.missing else ''}{outlook.missing}"
        case Outlook.NOT_RISING:
            return f"filters: {_rise(outlook)}; it does not rise, so there is no date"
        case Outlook.REACHED:
            return f"filters: {_rise(outlook)}; the change-out limit is reached"
        case Outlook.EXPECTED:
            limit = settings.filters.change_out_inh2o or 0.0
            latest = "open" if outlook.latest_utc_s is None else _day(outlook.latest_utc_s)
            return (
                f"filters: {_rise(outlook)}; {limit:g} inH2O about {_day(outlook.due_utc_s)} "
                f"(80 %: {_day(outlook.earliest_utc_s)} to {latest}); order by {_day(outlook.order_by_utc_s)}"
            )


def _rise(outlook: Forecast) -> str:
    if outlook.residual_inh2o is None:
        return "residual DP not known"
    if outlook.slope_inh2o_d is None:
        return f"residual DP {outlook.residual_inh2o:.2f} inH2O"
    return f"residual DP {outlook.residual_inh2o:.2f} inH2O, {outlook.slope_inh2o_d * _MONTH_D:+.2f} inH2O a month"


def _air(settings: CurveSettings, read: CurveState) -> str:
    found = air_figures(settings, read.air)
    if found.used is None or found.timed is None:
        return ""
    saved = ""
    if found.saved_ft3_d is not None:
        saved = f", {found.saved_ft3_d:.0f} ft3 a day less than timed cleaning"
    return f"air: {_use(found.used, found.currency)}{saved}"


def _use(use: Use, currency: str) -> str:
    air = "" if use.air_ft3_d is None else f", {use.air_ft3_d:.0f} ft3 of free air"
    cost = "" if use.cost_d is None else f", {use.cost_d:.2f} {currency}"
    return f"{use.pulses_d:.0f} pulses a day{air}{cost}"


def _day(utc_s: float | None) -> str:
    return "–" if utc_s is None else datetime.fromtimestamp(utc_s, UTC).date().isoformat()
