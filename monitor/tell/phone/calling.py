"""Calling: the messages of a callout to its people."""

from collections.abc import Iterable

from monitor.tell.phone.callout import Callout, Entry, most_urgent_first
from monitor.tell.phone.draft import Draft
from monitor.tell.phone.errand import Errand
from monitor.tell.phone.message import MessageKind, ToldAlarm
from monitor.tell.phone.refs import ref_of


def call(
    draft: Draft,
    callout: Callout,
    people: Iterable[str],
    kind: MessageKind,
    entries: tuple[Entry, ...],
    salt: str = "",
) -> Callout:
    """Make a message about these alarms for each of these people; return the callout that knows of it.

    A message that no gateway has had yet is added to instead: the person gets one where it would have been two.
    """
    for person in people:
        errand = _add(draft, callout, person, kind, entries, salt)
        others = callout.out if (person, errand.ref) in callout.out else (*callout.out, (person, errand.ref))
        callout = callout._replace(
            called=tuple(dict.fromkeys([*callout.called, person])),
            out=tuple([one for one in others if one[0] != person or draft.errand(*one) is not None]),
        )
    told = {entry.alarm.event_id for entry in entries}
    marked = [one._replace(told=one.told or one.alarm.event_id in told) for one in callout.entries]
    return callout._replace(entries=tuple(marked))


def waits(callout: Callout, person: str) -> bool:
    """Whether that person has still to get a message about the callout."""
    return any(name == person for name, _ in callout.out)


def _add(
    draft: Draft, callout: Callout, person: str, kind: MessageKind, entries: tuple[Entry, ...], salt: str
) -> Errand:
    alarms = tuple([entry.alarm for entry in entries])
    waiting = _untried(draft, callout, person)
    if waiting is not None:
        return _with_more(draft, waiting, alarms)
    return draft.add_errand(
        Errand(
            ref="",
            kind=kind,
            person=person,
            alarms=most_urgent_first(alarms),
            made_s=draft.now.mono_s,
            made_utc_s=draft.now.utc_s,
            salt=f"{callout.key} {salt}",
            callouts=(callout.key,),
            called_before=tuple([one for one in callout.called if one != person]),
            due_s=draft.now.mono_s,
        )
    )


def _untried(draft: Draft, callout: Callout, person: str) -> Errand | None:
    """The person's message of this callout that no gateway has had yet."""
    own = (draft.errand(*one) for one in callout.out if one[0] == person)
    return next((one for one in own if one and not one.attempt and one.kind is not MessageKind.HELD_BACK), None)


def _with_more(draft: Draft, errand: Errand, alarms: tuple[ToldAlarm, ...]) -> Errand:
    known = set(errand.ids)
    more = tuple([one for one in alarms if one.event_id not in known])
    if not more:
        return errand
    grown = errand._replace(alarms=most_urgent_first(errand.alarms + more))
    # An urgent alarm neither sleeps nor is held back: the whole message goes with it.
    grown = grown._replace(due_s=draft.now.mono_s) if grown.is_urgent else grown
    ref = ref_of(grown.kind.value, grown.person, grown.salt, grown.ids)
    draft.errands(errand.person).pop(errand.ref, None)
    return draft.put_errand(grown._replace(ref=ref))


def refresh(draft: Draft, callout: Callout, by: str = "", gone: Iterable[Entry] = ()) -> Callout:
    """Bring the messages about its alarms in line with how they stand: what nobody needs is dropped.

    Args:
        draft: is changed.
        callout: with its alarms as they are now.
        by: who answered.
        gone: alarms that are no longer in the callout.
    """
    owed = {entry.alarm.event_id: entry.alarm for entry in callout.entries if entry.is_owed}
    ended = {one.alarm.event_id: one.alarm for one in (*callout.entries, *gone) if not one.is_owed or one in gone}
    if not ended:
        return callout
    for person, ref in callout.out:
        errand = draft.errand(person, ref)
        if errand is not None:
            _trim(draft, errand, owed, ended, by)
    left = [one for one in callout.out if (errand := draft.errand(*one)) is not None and not errand.dropped]
    return callout._replace(out=tuple(left))


def release(draft: Draft, callout: Callout) -> None:
    """The callout ends without anybody having answered: nobody is called for its alarms any more."""
    refresh(draft, callout._replace(entries=()), gone=callout.entries)
    draft.drop(callout)


def _trim(draft: Draft, errand: Errand, owed: dict[str, ToldAlarm], ended: dict[str, ToldAlarm], by: str) -> None:
    alarms = [owed.get(one.event_id, one) for one in errand.alarms if one.event_id not in ended]
    further = tuple([one for one in errand.further if one not in ended])
    if alarms or further:
        draft.put_errand(errand._replace(alarms=tuple(alarms), further=further))
    elif errand.on_way:
        # Somebody may yet get it, and then wants to know that it is settled.
        told = tuple([ended.get(one.event_id, one) for one in errand.alarms])
        draft.put_errand(errand._replace(alarms=told, further=(), dropped=True, by=by))
    else:
        draft.remove_errand(errand)
