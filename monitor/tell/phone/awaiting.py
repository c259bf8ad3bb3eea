"""Awaiting: an alarm is acknowledged, and nobody is called any more; its return is still to be told."""

from collections.abc import Mapping

from monitor.tell.phone import notices
from monitor.tell.phone.callout import Callout, Entry
from monitor.tell.phone.draft import Draft
from monitor.tell.phone.message import MessageKind
from monitor.tell.phone.routing import named
from monitor.tell.phone.state import Awaited
from monitor.words import Cause, Event

#: Returns that are awaited at once; of more the oldest is told nobody (our choice).
MOST = 2000

_BACK = frozenset({"returned", "latched"})
_ENDS = frozenset({"raised", "shelved", "taken_out_of_service", "removed", "suppressed", "cleared"})


def note(draft: Draft, callout: Callout, entry: Entry, by: str) -> None:
    """Somebody acknowledged an alarm that stands: those who were called may want to hear of its return."""
    route = named(draft.settings, callout.route)
    if route is None or not route.returns or not callout.reached or not entry.stands:
        return
    alarm = entry.alarm._replace(acknowledged_by=by)
    kept = dict(draft.awaited)
    kept.pop(alarm.tag, None)
    kept[alarm.tag] = Awaited(alarm, callout.route, callout.reached)
    while len(kept) > MOST:
        del kept[next(iter(kept))]
    draft.awaited = kept


def take(draft: Draft, event: Event) -> None:
    """Take in the event of an alarm: its return is told, and what ends it otherwise is not."""
    found = draft.awaited.get(event.tag or "")
    if found is None or event.happened not in _BACK | _ENDS:
        return
    draft.awaited = _without(draft.awaited, found.alarm.tag)
    route = named(draft.settings, found.route)
    if not _is_back(event) or route is None or not route.returns:
        return
    people = draft.settings.people
    wanting = [one for one in found.reached if one in people and people[one].returns]
    alarm = found.alarm._replace(returned_utc_s=event.at_utc_s)
    notices.tell(draft, wanting, MessageKind.RETURNED, (alarm,), salt=event.event_id)


def _is_back(event: Event) -> bool:
    return event.happened in _BACK or (event.happened == "cleared" and event.cause is Cause.PROCESS)


def _without(awaited: Mapping[str, Awaited], tag: str) -> Mapping[str, Awaited]:
    return {name: one for name, one in awaited.items() if name != tag}
