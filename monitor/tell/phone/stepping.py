"""Stepping: what a callout does when its time has come: the next step, what came since, a reminder."""

import math

from monitor.tell.phone import calling, schedule
from monitor.tell.phone.callout import Callout, Entry
from monitor.tell.phone.draft import Draft
from monitor.tell.phone.happenings import nobody_reached, reached_again
from monitor.tell.phone.message import MessageKind
from monitor.tell.phone.rota import meant
from monitor.tell.phone.routing import named
from monitor.tell.phone.settings import Route, Step

#: How often it is asked who is on duty by now, while nobody can be reached (our choice).
RECHECK_S = 60.0


def advance(draft: Draft, callout: Callout) -> None:
    """Do all that is due for the callout."""
    route = named(draft.settings, callout.route)
    if route is None:
        return
    now_s = draft.now.mono_s
    while schedule.step_due_s(draft.settings, route, callout) <= now_s:
        callout = _take_step(draft, route, callout)
    if schedule.untold_due_s(draft.settings, callout) <= now_s:
        callout = calling.call(draft, callout, callout.called, MessageKind.MORE, schedule.untold(callout))
    if callout.stands and callout.remind_s <= now_s:
        callout = _remind(draft, route, callout)
    if callout.recheck_s <= now_s:
        callout = _recheck(draft, route, callout)
    draft.put(review(draft, callout))


def review(draft: Draft, callout: Callout) -> Callout:
    """Say whether anybody can be reached: if not, the next step comes at once; without one nobody is reached."""
    owed = {one.alarm.event_id for one in callout.entries if one.is_owed and not one.delivered}
    lost = bool(owed) and callout.step > 0 and _is_lost(draft, callout, owed)
    unreached = lost and not callout.steps_left
    if unreached and not callout.unreached:
        draft.events.append(nobody_reached(callout, _why(draft, callout), draft.now))
        callout = callout._replace(recheck_s=draft.now.mono_s + RECHECK_S)
    if callout.unreached and not unreached:
        if not owed and callout.entries:
            draft.events.append(reached_again(callout, draft.now))
        callout = callout._replace(recheck_s=math.inf)
    return callout._replace(unreached=unreached, hurry=lost and callout.steps_left)


def _is_lost(draft: Draft, callout: Callout, owed: set[str]) -> bool:
    """Whether no message about these alarms has a way that was not tried in vain; who sleeps is no way."""
    found = [draft.errand(*one) for one in callout.out]
    # What was put together of many is not searched: a thousand callouts would each read a thousand alarms.
    about = [one for one in found if one is not None and (one.further or not owed.isdisjoint(one.ids))]
    # What flood control holds has a way, and goes it when the window is over.
    if any(one.held or (not one.asleep and not one.rounds) for one in about):
        return False
    return not about or any(one.rounds for one in about)


def _why(draft: Draft, callout: Callout) -> str:
    found = [draft.errand(*one) for one in callout.out]
    return next((one.why for one in reversed(found) if one is not None and one.why), "")


def _take_step(draft: Draft, route: Route, callout: Callout) -> Callout:
    step = route.steps[callout.step]
    people = meant(draft.settings, step.people, step.rotas, draft.now.utc_s)
    first = not callout.step
    callout = callout._replace(step=callout.step + 1)
    callout = callout._replace(steps_left=callout.step < len(route.steps))
    if first and route.repeat_s is not None:
        callout = callout._replace(remind_s=draft.now.mono_s + route.repeat_s)
    fresh = [one for one in people if one not in callout.called]
    again = [one for one in people if one in callout.called and not calling.waits(callout, one)]
    kind = MessageKind.ESCALATION if callout.called else MessageKind.ALARM
    if callout.stands:
        callout = calling.call(draft, callout, again, MessageKind.REMINDER, owed(callout), f"step {callout.step}")
    if fresh:
        callout = calling.call(draft, callout, fresh, kind, owed(callout), f"step {callout.step}")
    # A step without anybody new helps nobody who waits for help.
    hurry = not callout.called or (callout.hurry and not fresh)
    return callout._replace(hurry=hurry and callout.steps_left)


def owed(callout: Callout) -> tuple[Entry, ...]:
    """The alarms for which people are called."""
    return tuple([one for one in callout.entries if one.is_owed])


def _remind(draft: Draft, route: Route, callout: Callout) -> Callout:
    callout = callout._replace(
        reminders=callout.reminders + 1, remind_s=draft.now.mono_s + (route.repeat_s or math.inf)
    )
    people = [one for one in callout.called if not calling.waits(callout, one)]
    salt = f"reminder {callout.reminders}"
    if not people:
        return callout
    return calling.call(draft, callout, people, MessageKind.REMINDER, owed(callout), salt)


def _recheck(draft: Draft, route: Route, callout: Callout) -> Callout:
    """Nobody can be reached: whoever is on duty by now is called too."""
    people = dict.fromkeys([one for step in route.steps for one in _meant(draft, step)])
    fresh = [one for one in people if one not in callout.called]
    callout = callout._replace(recheck_s=draft.now.mono_s + RECHECK_S)
    kind = MessageKind.ESCALATION if callout.called else MessageKind.ALARM
    return calling.call(draft, callout, fresh, kind, owed(callout), "by now") if fresh else callout


def _meant(draft: Draft, step: Step) -> tuple[str, ...]:
    return meant(draft.settings, step.people, step.rotas, draft.now.utc_s)
