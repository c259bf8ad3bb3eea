"""Wording, short: a message of at most 160 characters of the 7-bit alphabet (3GPP TS 23.038).

The link and the reference are never cut, nor the tag. What else does not fit goes in a planned order. Of a new
alarm: the trend, the check, since when (its message comes at once), the cause, and last the end of what was found;
of one that somebody should have answered by now the trend outlives the check. A caution has no room; the full form
and the page have it.
"""

from typing import NamedTuple

from monitor.tell.phone import wording_stand
from monitor.tell.phone.message import Message, MessageKind, ToldAlarm
from monitor.tell.phone.wording_alarm import cause_briefly, check_briefly, found_briefly, names, since, where
from monitor.tell.phone.wording_answer import answer, because
from monitor.tell.phone.wording_context import MessageContext
from monitor.tell.phone.wording_gsm import clip, gsm, is_gsm
from monitor.tell.phone.wording_times import by_the_clock, so_long

#: Characters of one text message in the 7-bit alphabet.
SHORT = 160
#: A link longer than this leaves no room for sense; then the message says to use the page.
LINK_MOST = 60

_CALLS = frozenset(
    {
        MessageKind.ALARM,
        MessageKind.MORE,
        MessageKind.REMINDER,
        MessageKind.ESCALATION,
        MessageKind.HELD_BACK,
    }
)


class _Pieces(NamedTuple):
    """``must`` is cut at its end if need be; ``may`` is added one by one as far as each fits."""

    must: str
    may: tuple[str, ...] = ()


def short(message: Message, context: MessageContext) -> str:
    """The message in at most 160 characters."""
    tail = _tail(message, context)
    room = SHORT - len(tail)
    pieces = _pieces(message, context, room)
    told = clip(gsm(pieces.must), room)
    for piece in pieces.may:
        longer = f"{told}, {gsm(piece)}"
        told = longer if piece and len(longer) <= room else told
    return told + tail


def fits(link: str) -> bool:
    """Whether a short message can carry that link."""
    return len(link) <= LINK_MOST and is_gsm(link) and " " not in link


def _tail(message: Message, context: MessageContext) -> str:
    ref = f" #{gsm(message.ref)}"
    if message.kind not in _CALLS:
        return ref
    if not message.may_acknowledge:
        return f". Call who may ack{ref}"
    if not context.link:
        return f". Ack on the page{ref}"
    return f" {context.link}{ref}" if fits(context.link) else f". Link too long, ack on the page{ref}"


def _pieces(message: Message, context: MessageContext, room: int) -> _Pieces:
    at = by_the_clock(message.at_utc_s, message.at_utc_s, context.zone)
    match message.kind:
        case MessageKind.TEST:
            return _Pieces(
                f"Test for {message.person} by {message.channel}: alarms reach you this way. Nothing to do"
            )
        case MessageKind.ALL_WELL:
            return _stand(context, at)
        case MessageKind.ACKNOWLEDGED:
            return _answered(message, context, room, at)
        case MessageKind.RETURNED:
            return _returned(message, context, room)
        case _:
            return _call(message, context, room)


def _call(message: Message, context: MessageContext, room: int) -> _Pieces:
    if not message.alarms:
        return _Pieces(f"{message.held_back} alarms, see the page")
    first = message.alarms[0]
    lead = _lead(message)
    name = f"{lead}{first.priority.value.upper()} {_name(first, room - len(lead) - 8)}"
    normal = ", now normal" if first.returned_utc_s is not None else ""
    status = clip(normal + _status(message), room - len(name) - 1)
    outlook = context.outlook(first.collector) if first.collector else ""
    may = _in_order(message.kind, since(first, message, context), first, outlook.split(", "))
    return _Pieces(f"{name}{status}: {found_briefly(first)}", may)


def _in_order(kind: MessageKind, time: str, alarm: ToldAlarm, trend: list[str]) -> tuple[str, ...]:
    """What may go, the last first. A new alarm comes at once, and a reminder has just said how long."""
    cause, check = cause_briefly(alarm), check_briefly(alarm)
    match kind:
        case MessageKind.ALARM | MessageKind.MORE:
            return (cause, time, check, *trend)
        case MessageKind.REMINDER:
            return (cause, *trend, time, check)
        case _:
            return (time, cause, *trend, check)


def _lead(message: Message) -> str:
    match message.kind:
        case MessageKind.MORE:
            return "ALSO "
        case MessageKind.HELD_BACK:
            return f"{len(message.alarms) + message.held_back} alarms, worst: "
        case _:
            return ""


def _status(message: Message) -> str:
    more = len(message.alarms) - 1 + message.held_back
    others = f" +{more} more" if more > 0 and message.kind is not MessageKind.HELD_BACK else ""
    match message.kind:
        case MessageKind.REMINDER:
            waiting_s = message.at_utc_s - min(alarm.at_utc_s for alarm in message.alarms)
            return f"{others}, no answer for {so_long(waiting_s)}"
        case MessageKind.ESCALATION:
            return f"{others}, no answer from {gsm(names(message.called_before, 40)) or 'others'}"
        case _:
            return others


def _answered(message: Message, context: MessageContext, room: int, at: str) -> _Pieces:
    first = message.alarms[0] if message.alarms else None
    by = clip(gsm(message.by), 20) or "Somebody"
    told = answer(by, _them(message, room - 60), first, context, message.at_utc_s)
    is_plain = first is None or first.answered in ("", "acknowledged")
    return _Pieces(f"{told} at {at}" if is_plain else told, (because(first),))


def _returned(message: Message, context: MessageContext, room: int) -> _Pieces:
    if not message.alarms:
        return _Pieces("Back to normal")
    first = message.alarms[0]
    at_utc_s = message.at_utc_s if first.returned_utc_s is None else first.returned_utc_s
    at = by_the_clock(at_utc_s, message.at_utc_s, context.zone)
    lasted = f"after {so_long(at_utc_s - first.at_utc_s)}"
    seen = f"acknowledged by {first.acknowledged_by}" if first.acknowledged_by else "not acknowledged"
    return _Pieces(
        f"Back to normal: {_them(message, room - 30)} at {at}", (lasted, seen, f"was: {found_briefly(first)}")
    )


def _stand(context: MessageContext, at: str) -> _Pieces:
    stand = context.stand
    troubles = wording_stand.troubles(stand)
    verdict = f"NOT all well: {troubles[0]}" if troubles else "all well"
    rest = (*troubles[1:], wording_stand.watched(stand), *wording_stand.remarks(stand))
    return _Pieces(f"{clip(gsm(context.site), 30)} {at} {verdict}", rest)


def _them(message: Message, room: int) -> str:
    if not message.alarms:
        return "the alarms"
    more = f" +{len(message.alarms) - 1} more" if len(message.alarms) > 1 else ""
    return _name(message.alarms[0], room - len(more)) + more


def _name(alarm: ToldAlarm, room: int) -> str:
    """The collector and the tag; of the two the tag is kept whole."""
    tag = gsm(alarm.tag)
    place = clip(gsm(where(alarm)), room - len(tag) - 1)
    return f"{place} {tag}".strip()
