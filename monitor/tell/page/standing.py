"""Standing: how one collector stands, in one word and in one sentence.

The word is for colour, shape and order; the sentence says it to people, and has no figure that moves with every
reading, so that it is news only when it really is.
"""

from collections.abc import Iterator
from enum import StrEnum
from typing import NamedTuple

from monitor.judge.alarm import Alarm
from monitor.judge.settings import AlarmSettings, Judged, Side
from monitor.judge.table import ACTIVE, HELD, UNANSWERED, WAITING
from monitor.scan.settings import CollectorPlan
from monitor.scan.state import CollectorState
from monitor.tell.notation import figure
from monitor.tell.wording import reason_in_words, state_in_words
from monitor.tell.wording_filters import SIGN
from monitor.tell.wording_phrases import one_line
from monitor.words import AlarmState, Priority, Quality, Reading, Reason, Role

_QUANTITY = {Judged.DAMPED: "DP", Judged.RESIDUAL: "residual DP", Judged.AVERAGE: "average DP"}


class Standing(StrEnum):
    """How a collector stands.

    ``ALARM``: some alarm is active. ``BLIND``: its DP is bad. ``WAITING``: back to normal, and an alarm waits for
    a person. ``OUT_OF_SERVICE``: all its alarms are. ``HELD``: the condition of a held alarm is there.
    """

    ALARM = "alarm"
    BLIND = "blind"
    WAITING = "waiting"
    OUT_OF_SERVICE = "out_of_service"
    HELD = "held"
    NORMAL = "normal"


class Known(NamedTuple):
    """One alarm of a collector, as it is set and as it stands."""

    settings: AlarmSettings
    alarm: Alarm

    @property
    def rank(self) -> tuple[int, bool]:
        """What sorts the most urgent last."""
        return self.settings.priority.rank, self.alarm.state in UNANSWERED


def alarms_of(plan: CollectorPlan, state: CollectorState) -> Iterator[Known]:
    """Every alarm of the collector, in the order of the site file."""
    for settings in plan.alarms:
        alarm = state.watch.alarms.get(settings.tag)
        if alarm is not None:
            yield Known(settings, alarm)


def worst_active(plan: CollectorPlan, state: CollectorState) -> Priority | None:
    """The priority of its most urgent active alarm; None where none is."""
    active = [one.settings.priority for one in alarms_of(plan, state) if one.alarm.state in ACTIVE]
    return max(active, key=lambda priority: priority.rank, default=None)


def standing(plan: CollectorPlan, state: CollectorState) -> Standing:
    """How it stands; what comes first in ``Standing`` wins."""
    known = [one.alarm for one in alarms_of(plan, state)]
    if any(alarm.state in ACTIVE for alarm in known):
        return Standing.ALARM
    if state.readings[Role.DP].quality is Quality.BAD:
        return Standing.BLIND
    if any(alarm.state in WAITING for alarm in known):
        return Standing.WAITING
    if known and all(alarm.state is AlarmState.OUT_OF_SERVICE for alarm in known):
        return Standing.OUT_OF_SERVICE
    if any(alarm.state in HELD and alarm.stands for alarm in known):
        return Standing.HELD
    return Standing.NORMAL


def says(plan: CollectorPlan, state: CollectorState) -> str:
    """The same in one plain sentence or two."""
    known = list(alarms_of(plan, state))
    match standing(plan, state):
        case Standing.ALARM:
            return _listed(plan, state, [one for one in known if one.alarm.state in ACTIVE])
        case Standing.BLIND:
            return f"The DP cannot be trusted: {_why(state.readings[Role.DP])}."
        case Standing.WAITING:
            return _listed(plan, state, [one for one in known if one.alarm.state in WAITING])
        case Standing.OUT_OF_SERVICE:
            return "All its alarms are out of service: nobody is warned of anything here."
        case Standing.HELD:
            there = [one for one in known if one.alarm.state in HELD and one.alarm.stands]
            return f"{_first(plan, state, there)}; nobody is warned of it{_more(there)}."
        case Standing.NORMAL:
            return _normal(plan, state, known)


def _listed(plan: CollectorPlan, state: CollectorState, some: list[Known]) -> str:
    return f"{_first(plan, state, some)}{_more(some)}."


def _first(plan: CollectorPlan, state: CollectorState, some: list[Known]) -> str:
    worst = max(some, key=lambda one: one.rank)
    about = _condition(plan, state, worst.settings)
    return f"{about[0].upper()}{about[1:]} ({worst.settings.tag}): {state_in_words(worst.alarm.state)}"


def _more(some: list[Known]) -> str:
    return "" if len(some) < 2 else f"; and {len(some) - 1} more"


def _condition(plan: CollectorPlan, state: CollectorState, settings: AlarmSettings) -> str:
    if (sign := plan.sign(settings.tag)) is not None:
        return SIGN[sign]
    if (band := plan.band(settings.tag)) is None:
        dp = state.readings[Role.DP]
        why = f": {_why(dp)}" if dp.quality is Quality.BAD else ""
        return f"the DP cannot be trusted{why}"
    side = "high" if band.side is Side.ABOVE else "low"
    return f"{_QUANTITY[band.judged]} {side}, set point {figure(band.setpoint_inh2o)} inH2O"


def _why(dp: Reading) -> str:
    is_told = not dp.detail or dp.reason is Reason.NOT_YET_READ
    detail = "" if is_told else f" ({one_line(dp.detail, 60)})"
    return f"{reason_in_words(dp.reason)}{detail}"


def _normal(plan: CollectorPlan, state: CollectorState, known: list[Known]) -> str:
    dp, fan = state.readings[Role.DP], state.readings.get(Role.FAN_RUNNING)
    found = "Normal" if plan.bands else "No band is set: only its signal is watched"
    if dp.quality is Quality.UNCERTAIN:
        found += f"; the DP is uncertain: {_why(dp)}"
    if fan is not None and fan.quality is Quality.GOOD and fan.value == 0.0:
        found += "; the fan stands still"
    held = sum(one.alarm.state in HELD for one in known)
    return f"{found}; {held} of its alarms held back." if held else f"{found}."
