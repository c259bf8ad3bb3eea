"""Cards: everything the yard view shows of one collector, and the few figures that move with every reading."""

from collections.abc import Mapping
from operator import attrgetter
from typing import Any, NamedTuple

from monitor.judge.alarm import Alarm
from monitor.judge.settings import Band
from monitor.judge.table import HELD
from monitor.scan.settings import CollectorPlan
from monitor.scan.state import CollectorState
from monitor.tell.page.forecasting import forecast_sentence
from monitor.tell.page.rounding import rounded
from monitor.tell.page.scale import scale
from monitor.tell.page.standing import Known, alarms_of, says, standing
from monitor.tell.payloads_alarms import alarms_in_sum
from monitor.tell.wording_phrases import one_line
from monitor.tell.wording_standing import standing_in_words
from monitor.words import AlarmState, Quality, Role

Payload = dict[str, Any]
#: DP, rank of its quality, its moment in Unix seconds, residual DP, running average.
Values = tuple[float | None, int, float, float | None, float | None]

QUALITY_RANK: Mapping[Quality, int] = {Quality.GOOD: 0, Quality.UNCERTAIN: 1, Quality.BAD: 2}


class Beside(NamedTuple):
    """What a card says that the collector's own state does not know.

    Attributes:
        last_good_utc_s: when its DP was last good, Unix seconds; None where that is not known.
        likely: what may be behind its most urgent active alarm, one sentence.
    """

    last_good_utc_s: float | None = None
    likely: str | None = None


def card(plan: CollectorPlan, state: CollectorState, beside: Beside) -> Payload:
    """The card of one collector."""
    in_sum = alarms_in_sum(plan, state.watch.alarms)
    known = list(alarms_of(plan, state))
    value, _, _, residual, average = values(state, decimals=3)
    return {
        "name": plan.name,
        "area": plan.area,
        "description": plan.description,
        "link": plan.link,
        "dp": _dp(plan, state, value, beside),
        "residual": residual,
        "average": average,
        "scale": scale(plan),
        "bands": bands(plan, state),
        "cleaning": _cleaning(plan),
        "fan": _fan(plan, state),
        "cleaning_now": cleaning_now(plan, state),
        "state": standing(plan, state).value,
        "says": says(plan, state),
        "worst": in_sum["highest_priority"],
        "active": in_sum["active"],
        "unacknowledged": in_sum["unacknowledged"],
        "held": [_held(one) for one in known if one.alarm.state in HELD],
        "forecast": None if plan.curve is None else forecast_sentence(plan.curve, state.curve),
        "likely": beside.likely,
    }


def values(state: CollectorState, decimals: int = 2) -> Values:
    """DP, rank of its quality, its moment, residual and average: what moves with every reading.

    A bad reading has no value, and no residual or average beside it: figures that nobody can see grow old would
    pass for new ones.
    """
    dp = state.readings[Role.DP]
    rank = QUALITY_RANK[dp.quality]
    at_utc_s = round(dp.at.utc_s, 2)
    if dp.quality is Quality.BAD:
        return None, rank, at_utc_s, None, None
    shown = (dp.value if dp.damped is None else dp.damped, state.residual_inh2o, state.average_inh2o)
    value, residual, average = (rounded(one, decimals) for one in shown)
    return value, rank, at_utc_s, residual, average


def shape(plan: CollectorPlan, state: CollectorState) -> tuple[object, ...]:
    """What of the state a card shows beside its figures: as long as this is the same, the card is.

    Cheap: it is asked once a second of every collector with news.
    """
    dp, fan = state.readings[Role.DP], state.readings.get(Role.FAN_RUNNING)
    return (
        id(plan),
        dp.quality,
        dp.reason,
        dp.detail,
        told(state.watch.alarms),
        None if fan is None else (fan.quality, fan.value),
        cleaning_now(plan, state),
        state.curve.signs,
        state.curve.outlook,
    )


#: What people see of an alarm; the running clocks inside it are not shown.
_TOLD = attrgetter("state", "seen", "since_utc_s", "raised_utc_s", "stands", "hold", "shelf", "removal")


def told(alarms: Mapping[str, Alarm]) -> tuple[tuple[object, ...], ...]:
    """What people see of these alarms."""
    return tuple(map(_TOLD, alarms.values()))


def bands(plan: CollectorPlan, state: CollectorState) -> list[Payload]:
    """The bands of a collector, each with the state of its alarm."""
    return [_band(band, state) for band in plan.bands]


def cleaning_now(plan: CollectorPlan, state: CollectorState) -> bool | None:
    """Whether it is being cleaned; None where nobody can tell."""
    signal = state.readings.get(Role.CLEANING_ACTIVE)
    if signal is not None and signal.quality is Quality.GOOD:
        return signal.value == 1.0
    if plan.curve is None or state.looked_s is None:
        return None
    return state.curve.tracker.cleaning_since_s is not None


def _dp(plan: CollectorPlan, state: CollectorState, value: float | None, beside: Beside) -> Payload:
    dp = state.readings[Role.DP]
    return {
        "tag": plan.points[Role.DP].tag,
        "value": value,
        "quality": dp.quality.value,
        "reason": dp.reason.value,
        "detail": one_line(dp.detail, 200),
        "at_utc_s": round(dp.at.utc_s, 2),
        "last_good_utc_s": rounded(beside.last_good_utc_s, 2),
    }


def _band(band: Band, state: CollectorState) -> Payload:
    settings = band.alarm
    alarm = state.watch.alarms.get(settings.tag)
    return {
        "tag": settings.tag,
        "side": band.side.value,
        "setpoint": rounded(band.setpoint_inh2o),
        "deadband": rounded(band.deadband_inh2o),
        "priority": settings.priority.value,
        "judged": band.judged.value,
        "state": (AlarmState.NORMAL if alarm is None else alarm.state).value,
    }


def _cleaning(plan: CollectorPlan) -> Payload | None:
    if plan.curve is not None:
        found = plan.curve.cleaning
        return {"mode": found.mode.value, "start": rounded(found.start_inh2o), "stop": rounded(found.stop_inh2o)}
    if plan.cleaning is not None:
        start, stop = rounded(plan.cleaning.start_inh2o), rounded(plan.cleaning.stop_inh2o)
        return {"mode": "on-demand", "start": start, "stop": stop}
    return None


def _fan(plan: CollectorPlan, state: CollectorState) -> str:
    if Role.FAN_RUNNING not in plan.points:
        return "none"
    fan = state.readings.get(Role.FAN_RUNNING)
    if fan is None or fan.quality is not Quality.GOOD:
        return "unknown"
    return "running" if fan.value == 1.0 else "stopped"


def _held(one: Known) -> Payload:
    shelf = one.alarm.shelf if one.alarm.state is AlarmState.SHELVED else None
    return {
        "tag": one.settings.tag,
        "how": one.alarm.state.value,
        "says": standing_in_words(one.alarm),
        "until_utc_s": None if shelf is None else rounded(shelf.until_utc_s),
        "stands": one.alarm.stands,
    }
