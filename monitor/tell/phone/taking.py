"""Taking: what an event of the journal does to the callouts."""

from monitor.tell.phone import awaiting, calling, notices
from monitor.tell.phone.callout import MOST_ENTRIES, Callout, Entry, Standing
from monitor.tell.phone.causes import causes_of, link_of, of_link
from monitor.tell.phone.draft import Draft, cause_key
from monitor.tell.phone.message import MessageKind, ToldAlarm
from monitor.tell.phone.reading import Change, change_of, told
from monitor.tell.phone.routing import route_of
from monitor.tell.wording_phrases import fact_number
from monitor.words import Event

#: A callout in which nothing has stood for longer is not joined again: people are called from the first step
#: (our choice).
COMEBACK_S = 3600.0

_STANDING = {
    Change.RETURNED: Standing.RETURNED,
    Change.OVER: Standing.OVER,
    Change.ANSWERED: Standing.ANSWERED,
}


def take_alarm(draft: Draft, event: Event) -> None:
    """Take in the event of an alarm."""
    awaiting.take(draft, event)
    change = change_of(event)
    if change is Change.RAISED:
        _raise(draft, told(event))
    elif change is not Change.NONE:
        callout = draft.callouts.get(draft.by_tag.get(event.tag or "", ""))
        if callout is not None:
            settle_alarm(draft, callout, event, change)


def take_test(draft: Draft, event: Event) -> None:
    """A person asked for test messages: one through every channel, each by itself."""
    to = str(event.facts.get("to") or event.facts.get("person") or "")
    for name, person in draft.settings.people.items():
        if to in ("", name):
            for channel in person.channels:
                salt = f"{event.event_id} {channel.name}"
                notices.tell(draft, (name,), MessageKind.TEST, by=event.by or "", salt=salt, only=channel.name)


def settle_alarm(draft: Draft, callout: Callout, event: Event, change: Change) -> None:
    """An alarm of the callout stands no longer, or somebody answered it."""
    last = [one for one in callout.entries if one.alarm.tag == event.tag and one.standing is not Standing.OVER]
    if not last or last[-1].standing is Standing.ANSWERED:
        return
    entry, had_stood = last[-1], callout.stands
    by = event.by or ""
    if change is Change.HELD:
        entries = tuple([one for one in callout.entries if one is not entry])
        draft.forget_tag(callout, entry)
    else:
        if event.happened == "acknowledged":
            awaiting.note(draft, callout, entry, by)
        ended = _ended(entry, event, change)
        entries = tuple([ended if one is entry else one for one in callout.entries])
    gone = (entry,) if change is Change.HELD else ()
    callout = calling.refresh(draft, callout._replace(entries=entries), by, gone)
    wind_up(draft, callout, by, event.event_id, had_stood=had_stood)


def wind_up(draft: Draft, callout: Callout, by: str, event_id: str, *, had_stood: bool) -> None:
    """Go on, or stop: where nothing stands any more people are told, and the callout ends if nothing is owed."""
    if callout.stands:
        draft.put(callout)
        return
    if had_stood:
        callout = callout._replace(stopped_s=draft.now.mono_s, hurry=False)
    if any(one.standing is Standing.ANSWERED for one in callout.entries):
        notices.tell_answered(draft, callout, by or _last_by(callout), event_id)
    callout = notices.tell_returned(draft, callout)
    keep_or_drop(draft, callout)


def keep_or_drop(draft: Draft, callout: Callout) -> None:
    """Keep what somebody must still answer or hear of; drop the callout when that is nothing."""
    kept = [one for one in callout.entries if one.standing is Standing.RETURNED or one.is_owed]
    gone = [one for one in callout.entries if one not in kept]
    left = callout._replace(entries=tuple(kept))
    for one in gone:
        draft.forget_tag(callout, one)
    if kept:
        draft.put(left)
    else:
        draft.drop(left)


def _ended(entry: Entry, event: Event, change: Change) -> Entry:
    if change is Change.ANSWERED:
        alarm = entry.alarm._replace(
            acknowledged_by=event.by or "",
            answered=event.happened,
            answered_why=str(event.facts.get("reason") or ""),
            answered_until_utc_s=fact_number(event, "until_utc_s"),
        )
    else:
        alarm = entry.alarm._replace(returned_utc_s=_first(entry.alarm.returned_utc_s, event.at_utc_s))
    return entry._replace(alarm=alarm, standing=_STANDING[change])


def _first(known: float | None, new: float) -> float:
    return new if known is None else known


def _last_by(callout: Callout) -> str:
    named = [one.alarm.acknowledged_by for one in callout.entries if one.alarm.acknowledged_by]
    return named[-1] if named else ""


def _raise(draft: Draft, alarm: ToldAlarm) -> None:
    """People are called for an alarm: in the callout where it is or belongs, or in one of its own."""
    before = draft.callouts.get(draft.by_tag.get(alarm.tag, ""))
    if before is not None:
        _come_back(draft, before, alarm)
    route = route_of(draft.settings, alarm)
    if route is not None:
        _join(draft, route.name, alarm)
    left = None if before is None else draft.callouts.get(before.key)
    if left is not None and not left.entries:
        draft.drop(left)


def _join(draft: Draft, route: str, alarm: ToldAlarm) -> None:
    causes = causes_of(draft.settings, alarm)
    entry = Entry(alarm, draft.now.mono_s)
    callout = _joined(draft, route, alarm, causes)
    if callout is None:
        callout = Callout(alarm.event_id, route, causes, draft.now.mono_s, draft.now.utc_s, (entry,))
    else:
        callout = _going_on(draft, callout)
        all_causes = tuple(dict.fromkeys((*callout.causes, *causes)))
        callout = callout._replace(entries=(*callout.entries, entry), causes=all_causes)
    draft.put(callout)


def _come_back(draft: Draft, callout: Callout, alarm: ToldAlarm) -> None:
    """The alarm was in a callout already: its earlier raising ends there, told or still to be told."""
    entries = []
    for one in callout.entries:
        if one.alarm.tag != alarm.tag or one.standing is Standing.ANSWERED:
            entries.append(one)
        elif not one.delivered:
            over = one.alarm._replace(returned_utc_s=_first(one.alarm.returned_utc_s, alarm.at_utc_s))
            entries.append(one._replace(alarm=over, standing=Standing.OVER))
    draft.by_tag.pop(alarm.tag, None)
    kept = {one.alarm.event_id for one in entries}
    gone = [one for one in callout.entries if one.alarm.event_id not in kept]
    left = calling.refresh(draft, callout._replace(entries=tuple(entries)), gone=gone)
    # Also without alarms it is kept for a moment: the one that comes back goes on where it stopped.
    stopped = left.stopped_s if left.stands or left.stopped_s is not None else draft.now.mono_s
    draft.put(left._replace(stopped_s=stopped))


def _joined(draft: Draft, route: str, alarm: ToldAlarm, causes: tuple[str, ...]) -> Callout | None:
    """The callout of the same cause that the alarm joins."""
    link = link_of(draft.settings, alarm.collector)
    if link:
        lost = draft.callouts.get(draft.by_cause.get(cause_key(route, of_link(link)), ""))
        if lost and _is_open(draft, lost) and any(one.stands and one.alarm.link == link for one in lost.entries):
            return lost
    keys = [draft.by_cause.get(cause_key(route, cause), "") for cause in causes]
    found = [draft.callouts[key] for key in keys if key in draft.callouts]
    return next((one for one in found if _is_open(draft, one)), None)


def _is_open(draft: Draft, callout: Callout) -> bool:
    stopped_s = callout.stopped_s
    recent = stopped_s is None or draft.now.mono_s - stopped_s <= COMEBACK_S
    return recent and len(callout.entries) < MOST_ENTRIES


def _going_on(draft: Draft, callout: Callout) -> Callout:
    """The time in which nothing stood counts for no step and no reminder."""
    if callout.stopped_s is None:
        return callout
    gap_s = draft.now.mono_s - callout.stopped_s
    return callout._replace(began_s=callout.began_s + gap_s, remind_s=callout.remind_s + gap_s, stopped_s=None)
