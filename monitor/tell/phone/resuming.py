"""Resuming: the state after a restart or with changed settings."""

from monitor.tell.phone import calling, notices, stepping
from monitor.tell.phone.callout import Callout
from monitor.tell.phone.draft import Draft
from monitor.tell.phone.errand import Errand
from monitor.tell.phone.lanes import channels_of
from monitor.tell.phone.routing import named, route_of
from monitor.tell.phone.settings import Route


def resume_all(draft: Draft) -> None:
    """Nothing is on its way; who is gone is called no more; callouts follow the routes as they are now."""
    known = {f"{person.name}\n{one.name}" for person in draft.settings.people.values() for one in person.channels}
    draft.lanes = {key: lane._replace(busy="") for key, lane in draft.lanes.items() if key in known}
    for person in draft.people():
        for errand in list(draft.errands(person).values()):
            _resume_errand(draft, errand)
    for callout in list(draft.callouts.values()):
        _resume_callout(draft, callout)


def _resume_errand(draft: Draft, errand: Errand) -> None:
    if not channels_of(draft.settings, errand):
        draft.remove_errand(errand)
        return
    if errand.dropped:
        # It may have arrived before the end: what it told has been settled, and that is told now.
        draft.remove_errand(errand)
        notices.tell_settled(draft, errand)
        return
    number = errand.channel if errand.channel < len(channels_of(draft.settings, errand)) else 0
    draft.put_errand(errand._replace(on_way=False, channel=number, due_s=draft.now.mono_s))


def _resume_callout(draft: Draft, callout: Callout) -> None:
    route = _route(draft, callout)
    if route is None:
        calling.release(draft, callout)
        return
    called = tuple([one for one in callout.called if one in draft.settings.people])
    step = min(callout.step, len(route.steps)) if called else 0
    covered = {event for one in callout.out if (errand := draft.errand(*one)) for event in errand.ids}
    entries = [
        one if one.delivered or one.alarm.event_id in covered else one._replace(told=False)
        for one in callout.entries
    ]
    moved = callout._replace(
        route=route.name, called=called, step=step, steps_left=step < len(route.steps), entries=tuple(entries)
    )
    draft.put(stepping.review(draft, calling.refresh(draft, moved)))


def _route(draft: Draft, callout: Callout) -> Route | None:
    """Its route, or the first that fits its alarms where that is gone."""
    known = named(draft.settings, callout.route)
    if known is not None and known.steps:
        return known
    found = (route_of(draft.settings, one.alarm) for one in callout.entries)
    return next((one for one in found if one is not None), None)
