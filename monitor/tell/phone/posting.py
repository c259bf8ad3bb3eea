"""Posting: which of a person's messages go to the gateways now, and how long the others wait."""

import math
from typing import NamedTuple
from zoneinfo import ZoneInfo

from monitor.tell.phone import flood, lanes
from monitor.tell.phone.draft import Draft
from monitor.tell.phone.errand import Errand
from monitor.tell.phone.message import Message, MessageKind, ToldAlarm
from monitor.tell.phone.quiet import quiet_until_utc_s

#: The wall clock may be set while somebody sleeps: it is asked again this often (our choice).
_ASK_AGAIN_S = 600.0

#: A notice for which all channels were gone through so often in vain is given up: it calls nobody for help.
_NOTICE_ROUNDS = 3


class Posted(NamedTuple):
    """What came of a look at a person's box.

    Attributes:
        held_back: alarms that flood control put together now.
    """

    messages: tuple[Message, ...] = ()
    held_back: int = 0


def post(draft: Draft, person: str) -> Posted:
    """Offer what is due to the person's channels: calls before notices, the most urgent first."""
    now_s = draft.now.mono_s
    held_back = _put_together(draft, person)
    quiet_s = _quiet_s(draft, person)
    messages = _offer_all(draft, person, quiet_s)
    later = [one.due_s for one in draft.errands(person).values() if not one.on_way and one.due_s > now_s]
    # What is due and was not sent waits for its channel: for its message to be settled, or for its pause to end.
    due_s = min([*later, lanes.opens_s(draft, person)])
    draft.put_box(person, draft.box(person)._replace(due_s=due_s))
    return Posted(tuple(messages), held_back)


def _offer_all(draft: Draft, person: str, quiet_s: float | None) -> list[Message]:
    messages: list[Message] = []
    shut = lanes.are_shut(draft, person)
    for errand in _due(draft, person, shut=shut):
        if shut and _was_in_vain(errand):
            continue
        message = _offer(draft, errand, quiet_s)
        if message is not None:
            messages.append(message)
            shut = lanes.are_shut(draft, person)
    return messages


def _was_in_vain(errand: Errand) -> bool:
    """Of a thousand calls that were tried in vain one tries the channel again; the others are not looked at."""
    return errand.is_call and errand.rounds > 0


def _due(draft: Draft, person: str, *, shut: bool) -> list[Errand]:
    now_s = draft.now.mono_s
    due = [one for one in draft.errands(person).values() if not one.on_way and one.due_s <= now_s]
    due = [one for one in due if not (shut and _was_in_vain(one))]
    # Who is called for help waits for no news of help that came.
    return sorted(due, key=lambda one: (not one.is_call, -one.rank, one.made_s))


def _put_together(draft: Draft, person: str) -> int:
    """Where the window allows a message again, make one of those that were held back.

    And where it allows a last one, make it of all that wait: who gets it knows then how many there are, instead of
    hearing nothing of them until the window is over.
    """
    now_s, box = draft.now.mono_s, draft.box(person)
    due = [one for one in draft.errands(person).values() if not one.on_way and one.due_s <= now_s]
    fresh = [one for one in due if one.is_call and flood.is_counted(one) and not one.attempt]
    if len(fresh) > 1 and flood.is_last(draft.settings, box, now_s):
        return flood.put_together(draft, fresh)
    held = [one for one in due if one.held]
    return flood.put_together(draft, [one for one in held if flood.free_s(draft.settings, box, one) <= now_s])


def _quiet_s(draft: Draft, person: str) -> float | None:
    """Until which scan second the person is quiet; None for not now."""
    known = draft.settings.people.get(person)
    if known is None or not known.quiet:
        return None
    until_utc_s = quiet_until_utc_s(known, ZoneInfo(draft.settings.time_zone), draft.now.utc_s)
    if until_utc_s is None:
        return None
    return draft.now.mono_s + min(until_utc_s - draft.now.utc_s, _ASK_AGAIN_S)


def _offer(draft: Draft, errand: Errand, quiet_s: float | None) -> Message | None:
    if quiet_s is not None and not errand.is_urgent and errand.kind is not MessageKind.TEST:
        _sleep(draft, errand, quiet_s)
        return None
    if errand.asleep:
        errand = _keep(draft, errand._replace(asleep=False))
    free_s = _free_s(draft, errand)
    if free_s > draft.now.mono_s:
        _keep(draft, errand._replace(held=True, due_s=free_s))
        return None
    way = lanes.way_of(draft, errand)
    if way.number is None:
        if not way.is_busy:
            in_vain(draft, errand)
        return None
    return _send(draft, errand, way.number)


def _sleep(draft: Draft, errand: Errand, quiet_s: float) -> None:
    """The person is quiet: the message waits; that all was well at a set hour is no news in the morning."""
    if errand.kind is MessageKind.ALL_WELL:
        draft.remove_errand(errand)
        return
    _touch(draft, errand)
    _keep(draft, errand._replace(asleep=True, due_s=quiet_s))


def _free_s(draft: Draft, errand: Errand) -> float:
    if errand.attempt or not flood.is_counted(errand):
        return -math.inf
    return flood.free_s(draft.settings, draft.box(errand.person), errand)


def in_vain(draft: Draft, errand: Errand) -> None:
    """All channels were gone through: again after a pause, from the first, once each."""
    rounds = errand.rounds + 1
    _touch(draft, errand)
    if not errand.is_call and (rounds >= _NOTICE_ROUNDS or errand.kind is MessageKind.TEST):
        draft.remove_errand(errand)
        return
    pause_s = draft.now.mono_s + lanes.pause_s(draft.settings, rounds)
    due_s = min(pause_s, max(lanes.open_s(draft, errand), draft.now.mono_s + draft.settings.first_retry_s))
    _keep(draft, errand._replace(rounds=rounds, channel=0, tries=0, due_s=due_s))


def _send(draft: Draft, errand: Errand, number: int) -> Message:
    channel = lanes.channels_of(draft.settings, errand)[number]
    lane = draft.lane(errand.person, channel.name)
    draft.put_lane(errand.person, channel.name, lane._replace(busy=errand.ref))
    if not errand.attempt and flood.is_counted(errand):
        box = flood.counted(draft.settings, draft.box(errand.person), errand, draft.now.mono_s)
        draft.put_box(errand.person, box)
    tries = errand.tries if number == errand.channel else 0
    sent = errand._replace(
        on_way=True, held=False, attempt=errand.attempt + 1, channel=number, tries=tries, due_s=math.inf
    )
    return _message(draft, _keep(draft, sent), channel.name)


def _message(draft: Draft, errand: Errand, channel: str) -> Message:
    person = draft.settings.people[errand.person]
    return Message(
        ref=errand.ref,
        kind=errand.kind,
        person=errand.person,
        channel=channel,
        attempt=errand.attempt,
        alarms=tuple([_explaining(draft, one) for one in errand.alarms]),
        held_back=len(errand.further),
        called_before=errand.called_before,
        by=errand.by,
        link_wanted=person.links and errand.is_call,
        may_acknowledge=person.acknowledges,
        # A call may have waited for the end of quiet hours, or for a gateway: "5 min ago" is as of now.
        at_utc_s=draft.now.utc_s if errand.is_call else errand.made_utc_s,
    )


def _explaining(draft: Draft, alarm: ToldAlarm) -> ToldAlarm:
    """With the number of alarms that are held back as its consequences now."""
    return alarm._replace(explains=draft.explains.get(alarm.tag, 0))


def _keep(draft: Draft, errand: Errand) -> Errand:
    # Not through the draft's own way: the box's next moment is worked out once for all its messages.
    draft.errands(errand.person)[errand.ref] = errand
    return errand


def _touch(draft: Draft, errand: Errand) -> None:
    draft.touched.update(dict.fromkeys(errand.callouts))
