"""Flood: no person gets more messages in a while than anybody can read; the rest is put together."""

from monitor.tell.phone.callout import most_urgent_first
from monitor.tell.phone.draft import Draft
from monitor.tell.phone.errand import Box, Errand
from monitor.tell.phone.message import MessageKind
from monitor.tell.phone.refs import ref_of
from monitor.tell.phone.settings import PhoneSettings

#: Alarms that are told one by one in a message of what was held back (our choice).
MOST_SHOWN = 5


def is_counted(errand: Errand) -> bool:
    """Whether flood control counts it: all but urgent calls, and what somebody asked for or set a time for.

    Were urgent calls counted, one that is repeated often would keep all others back for ever.
    """
    is_wanted = errand.kind in (MessageKind.TEST, MessageKind.ALL_WELL)
    return not is_wanted and not (errand.is_call and errand.is_urgent)


def free_s(settings: PhoneSettings, box: Box, errand: Errand) -> float:
    """From which scan second on another message of that sort may go to the person; the past for now."""
    sent = box.calls_s if errand.is_call else box.notices_s
    most = max(1, settings.flood_messages)
    return sent[-most] + settings.flood_window_s if len(sent) >= most else float("-inf")


def is_last(settings: PhoneSettings, box: Box, now_s: float) -> bool:
    """Whether one more call fits the window, and no further one."""
    within = [one for one in box.calls_s if one + settings.flood_window_s > now_s]
    return len(within) == max(1, settings.flood_messages) - 1


def counted(settings: PhoneSettings, box: Box, errand: Errand, now_s: float) -> Box:
    """The box after a message of that sort went out for the first time."""
    sent = box.calls_s if errand.is_call else box.notices_s
    kept = (*[one for one in sent if one + settings.flood_window_s > now_s], now_s)[
        -max(1, settings.flood_messages) :
    ]
    return box._replace(calls_s=kept) if errand.is_call else box._replace(notices_s=kept)


def put_together(draft: Draft, held: list[Errand]) -> int:
    """Make one message of those that were held back; return how many alarms it tells.

    Calls for help become one message, acknowledgements by one person another, returns to normal a third.
    """
    calls = [one for one in held if one.is_call]
    told = _merge(draft, MessageKind.HELD_BACK, calls) if len(calls) > 1 else 0
    for by in dict.fromkeys(one.by for one in held if one.kind is MessageKind.ACKNOWLEDGED):
        _merge_notices(draft, MessageKind.ACKNOWLEDGED, [one for one in held if one.by == by])
    _merge_notices(draft, MessageKind.RETURNED, held)
    return told


def _merge_notices(draft: Draft, kind: MessageKind, held: list[Errand]) -> None:
    alike = [one for one in held if one.kind is kind]
    if len(alike) > 1:
        _merge(draft, kind, alike)


def _merge(draft: Draft, kind: MessageKind, errands: list[Errand]) -> int:
    alarms = {alarm.event_id: alarm for one in errands for alarm in one.alarms}
    ranked = most_urgent_first(tuple(alarms.values()))
    shown = ranked[:MOST_SHOWN]
    ids = dict.fromkeys(
        [*[one.event_id for one in ranked], *[one for errand in errands for one in errand.further]]
    )
    further = tuple([one for one in ids if one not in {alarm.event_id for alarm in shown}])
    first = min(errands, key=lambda one: one.made_s)
    keys = tuple(dict.fromkeys(key for one in errands for key in one.callouts))
    # The same alarms may be put together again, as reminders: that is another message.
    salt = ref_of(kind.value, first.person, "", [one.ref for one in errands])
    for one in errands:
        draft.remove_errand(one)
    whole = draft.add_errand(
        first._replace(
            kind=kind, alarms=shown, further=further, callouts=keys, salt=salt, called_before=(), held=True
        )
    )
    for key in keys:
        if (callout := draft.callouts.get(key)) is not None:
            draft.callouts[key] = callout._replace(out=(*callout.out, (whole.person, whole.ref)))
    return len(ids)
