"""Settling: what becomes of a message, its callouts and its channel after an attempt."""

from monitor.tell.phone import calling, lanes, notices, posting, stepping, taking
from monitor.tell.phone.callout import Callout, Entry
from monitor.tell.phone.draft import Draft
from monitor.tell.phone.errand import Errand
from monitor.tell.phone.happenings import attempted, held_back_told
from monitor.tell.phone.message import Message, MessageKind, Sent


def settle_message(draft: Draft, message: Message, sent: Sent) -> None:
    """Take in what became of an attempt."""
    errand = draft.errand(message.person, message.ref)
    draft.events.append(attempted(message, errand, sent, draft.now))
    was_failing = _settle_lane(draft, message, sent)
    if errand is not None and sent.delivered:
        _delivered(draft, errand, message)
    elif errand is not None:
        _failed(draft, errand._replace(on_way=False, tries=errand.tries + 1, why=sent.why), message.channel)
    if was_failing and sent.delivered:
        _try_again(draft, message)
    draft.wake(message.person)
    for key in draft.touched:
        if (callout := draft.callouts.get(key)) is not None:
            draft.put(stepping.review(draft, callout))


def _settle_lane(draft: Draft, message: Message, sent: Sent) -> bool:
    """The channel is free again; say whether it had been failing."""
    lane = draft.lane(message.person, message.channel)
    was_failing = lanes.is_failing(draft.settings, lane)
    after = lanes.after(draft.settings, lane, delivered=sent.delivered, why=sent.why, now=draft.now)
    draft.put_lane(message.person, message.channel, after)
    return was_failing


def _delivered(draft: Draft, errand: Errand, message: Message) -> None:
    draft.remove_errand(errand)
    if errand.kind is MessageKind.HELD_BACK:
        draft.events.append(held_back_told(errand, draft.now))
    if not errand.is_call:
        return
    if errand.dropped:
        notices.tell_settled(draft, errand)
        return
    ids = {*errand.ids, *[one.event_id for one in message.alarms]}
    back = {one.event_id for one in message.alarms if one.returned_utc_s is not None}
    for key in errand.callouts:
        if (callout := draft.callouts.get(key)) is not None:
            entries = tuple([_got(one, ids, back) for one in callout.entries])
            reached = tuple(dict.fromkeys([*callout.reached, errand.person]))
            _after_delivery(draft, callout._replace(entries=entries, reached=reached))


def _got(entry: Entry, ids: set[str], back: set[str]) -> Entry:
    """The alarm after somebody got the message; who got it as one that is over need not be told that it is."""
    if entry.alarm.event_id not in ids:
        return entry
    return entry._replace(delivered=True, return_told=entry.return_told or entry.alarm.event_id in back)


def _after_delivery(draft: Draft, callout: Callout) -> None:
    """What was owed only until somebody got it is dropped, and with the last of it the callout."""
    callout = stepping.review(draft, calling.refresh(draft, callout))
    if callout.stands:
        draft.put(callout)
    else:
        taking.keep_or_drop(draft, notices.tell_returned(draft, callout))


def _failed(draft: Draft, errand: Errand, channel: str) -> None:
    if errand.dropped:
        draft.remove_errand(errand)
        return
    most = 1 if errand.rounds or errand.only else draft.settings.tries
    lane = draft.lane(errand.person, channel)
    if errand.tries < most and not lanes.is_failing(draft.settings, lane):
        due_s = draft.now.mono_s + lanes.pause_s(draft.settings, errand.tries)
        draft.put_errand(errand._replace(due_s=due_s))
    elif errand.channel + 1 < len(lanes.channels_of(draft.settings, errand)):
        draft.put_errand(errand._replace(channel=errand.channel + 1, tries=0, due_s=draft.now.mono_s))
    else:
        posting.in_vain(draft, errand)


def _try_again(draft: Draft, message: Message) -> None:
    """The channel works again: what waits for any of the person's channels need not wait longer."""
    for errand in list(draft.errands(message.person).values()):
        if errand.rounds and not errand.on_way and not errand.asleep and not errand.held:
            draft.put_errand(errand._replace(channel=0, tries=0, due_s=draft.now.mono_s))
