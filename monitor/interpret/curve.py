"""Curve: everything that is read from the curve of one collector, one sample after another.

    sample → digest → cycle → ageing, symptoms, air → signs

A sample costs a microsecond; the reading itself happens once for each digest.
"""

import math
from typing import NamedTuple

from monitor.interpret import gathering
from monitor.interpret.air import count
from monitor.interpret.air.count import AirCount
from monitor.interpret.cycles import tracker
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.tracker import Tracker
from monitor.interpret.digest import Digest, Sample
from monitor.interpret.gathering import Gathering
from monitor.interpret.settings import DAY_S, CurveSettings, FilterSettings
from monitor.interpret.symptoms import looking
from monitor.interpret.symptoms.looking import Looking
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.interpret.trend import ageing
from monitor.interpret.trend.ageing import Ageing
from monitor.interpret.trend.forecast import Forecast, Outlook, forecast
from monitor.troubles import Clue, Sign

#: A forecast in days need not be made anew more often than this, seconds.
FORECAST_EVERY_S = 6 * 3600.0
#: While there is not enough data, what is missing is told anew this often; it costs next to nothing then.
EARLY_EVERY_S = 3600.0
#: Nobody is told to order before so many days of running are known of the set; our choice: four weeks of its life.
LEAST_DAYS = 28.0
#: A set that was due to be ordered is so until its day lies this far ahead again, seconds; our choice.
REMAINS_S = 14 * DAY_S

Signs = tuple[tuple[Sign, Clue], ...]


class CurveState(NamedTuple):
    """What has been read from the curve so far.

    Attributes:
        cycles: cleaning cycles since the reading began.
        outlook: the newest forecast, made at ``outlook_utc_s``.
        signs: the early warnings that stand, each with its figures.
        air: pulses counted, for compressed air and wear.
    """

    gathering: Gathering = gathering.EMPTY
    tracker: Tracker = tracker.BEGIN
    ageing: Ageing = ageing.BEGIN
    looking: Looking = looking.BEGIN
    cycles: int = 0
    outlook: Forecast = Forecast(Outlook.NOT_ENOUGH_DATA)
    outlook_utc_s: float = -math.inf
    signs: Signs = ()
    air: AirCount = count.BEGIN


BEGIN = CurveState()


def advance(settings: CurveSettings, state: CurveState, sample: Sample) -> CurveState:
    """Take in one sample."""
    gathered, digest = gathering.gather(settings.digest_s, state.gathering, sample)
    state = state._replace(gathering=gathered)
    return state if digest is None else take(settings, state, digest)


def take(settings: CurveSettings, state: CurveState, digest: Digest) -> CurveState:
    """Take in one digest."""
    tracked, cycle = tracker.advance(settings.cleaning, state.tracker, digest)
    aged = ageing.advance(settings.filters, state.ageing, digest, cycle)
    looked = looking.advance(settings.cleaning, state.looking, digest, tracked, cycle)
    state = CurveState(
        state.gathering,
        tracked,
        aged,
        looked,
        state.cycles + (cycle is not None),
        state.outlook,
        state.outlook_utc_s,
        state.signs,
        count.advance(settings, state.air, digest, tracked, cycle),
    )
    if abs(digest.end_utc_s - state.outlook_utc_s) >= forecast_every_s(state):
        state = _looked_ahead(settings.filters, state, digest.end_utc_s)
    return _with_signs(state, digest.end_utc_s)


def forecast_every_s(state: CurveState) -> float:
    """How long a forecast stands before the next is made."""
    return EARLY_EVERY_S if state.outlook.outlook is Outlook.NOT_ENOUGH_DATA else FORECAST_EVERY_S


def filters_changed(settings: CurveSettings, state: CurveState, utc_s: float, now_utc_s: float) -> CurveState:
    """Somebody put in a new set at that moment (Unix seconds): its life begins anew."""
    state = state._replace(ageing=ageing.filters_changed(state.ageing, utc_s), looking=looking.BEGIN)
    state = state._replace(signs=())
    return _with_signs(_looked_ahead(settings.filters, state, now_utc_s), now_utc_s)


def symptoms(state: CurveState) -> Symptoms:
    """What shows now; reason and neighbours are left to who knows them."""
    return looking.symptoms(state.looking)._replace(residual_slope_inh2o_d=state.outlook.slope_inh2o_d)


def last_cycle(state: CurveState) -> Cycle | None:
    """The newest whole cycle."""
    return state.tracker.last


def _looked_ahead(settings: FilterSettings, state: CurveState, utc_s: float) -> CurveState:
    return state._replace(outlook=forecast(settings, state.ageing, utc_s), outlook_utc_s=utc_s)


def _with_signs(state: CurveState, utc_s: float) -> CurveState:
    signs = state.looking.signs + _due(state, utc_s)
    return state if signs == state.signs else state._replace(signs=signs)


def _due(state: CurveState, utc_s: float) -> Signs:
    """Whether the next set must be ordered now."""
    outlook = state.outlook
    if outlook.outlook is Outlook.REACHED:
        return ((Sign.CHANGE_OUT_DUE, Clue("residual_at_limit", outlook.residual_inh2o, None, "inH2O")),)
    by_utc_s = outlook.order_by_utc_s
    # A forecast wavers by some days; what has been said stands until it is plainly wrong.
    early_s = REMAINS_S if any(sign is Sign.CHANGE_OUT_DUE for sign, _ in state.signs) else 0.0
    if outlook.outlook is not Outlook.EXPECTED or by_utc_s is None or outlook.days < LEAST_DAYS:
        return ()
    if utc_s < by_utc_s - early_s:
        return ()
    left = None if outlook.earliest_utc_s is None else (outlook.earliest_utc_s - utc_s) / DAY_S
    return ((Sign.CHANGE_OUT_DUE, Clue("days_to_change_out", left, None, "d")),)
