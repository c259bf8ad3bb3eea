"""Schedule: when a callout must be looked at next, and why."""

import math

from monitor.tell.phone.callout import Callout, Entry
from monitor.tell.phone.settings import PhoneSettings, Route
from monitor.words import Priority


def due_s(settings: PhoneSettings, route: Route, callout: Callout) -> float:
    """The scan second at which something is to be done for the callout; infinity for never."""
    more_s = min(untold_due_s(settings, callout), step_due_s(settings, route, callout))
    if not callout.stands:
        return min(more_s, callout.recheck_s)
    return min(more_s, callout.remind_s, callout.recheck_s)


def step_due_s(settings: PhoneSettings, route: Route, callout: Callout) -> float:
    """When the next step is taken; infinity when there is none, or nobody stands to be called for."""
    if callout.step >= len(route.steps):
        return math.inf
    if callout.hurry:
        return -math.inf
    if callout.step == 0:
        return max(gathered_s(settings, callout), callout.began_s + route.steps[0].after_s)
    return callout.began_s + route.steps[callout.step].after_s if callout.stands else math.inf


def gathered_s(settings: PhoneSettings, callout: Callout) -> float:
    """When the first message goes out: after the gathering, or at once where an alarm is urgent."""
    urgent = any(entry.alarm.priority is Priority.URGENT for entry in callout.entries)
    return callout.began_s + (0.0 if urgent else settings.gather_s)


def untold_due_s(settings: PhoneSettings, callout: Callout) -> float:
    """When those who were called are told of what came since; infinity where they know it all."""
    if callout.step == 0:
        return math.inf
    told = max((one.alarm.priority.rank for one in callout.entries if one.told), default=-1)
    return min((_more_s(settings, one, told) for one in untold(callout)), default=math.inf)


def untold(callout: Callout) -> tuple[Entry, ...]:
    """The alarms that are owed and in no message yet."""
    return tuple([entry for entry in callout.entries if not entry.told and entry.is_owed])


def _more_s(settings: PhoneSettings, entry: Entry, told_rank: int) -> float:
    at_once = entry.alarm.priority.rank > told_rank or entry.alarm.priority is Priority.URGENT
    return entry.joined_s + (0.0 if at_once else settings.gather_s)
