"""Wording, full: a message for a channel that has room, line by line, what matters first."""

from collections.abc import Iterable

from monitor.tell.phone import wording_stand
from monitor.tell.phone.message import Message, MessageKind, ToldAlarm
from monitor.tell.phone.wording_alarm import behind, found, names, since, where
from monitor.tell.phone.wording_answer import answer, because
from monitor.tell.phone.wording_context import MessageContext, Text
from monitor.tell.phone.wording_gsm import plain
from monitor.tell.phone.wording_times import by_the_clock, so_long

#: So many alarms are told one by one; the page has the others.
LISTED = 8
_TITLE = 150


def full(message: Message, context: MessageContext) -> Text:
    """The whole message: one line of title, and the lines of the body."""
    match message.kind:
        case MessageKind.TEST:
            title, lines = _test(message)
        case MessageKind.ALL_WELL:
            title, lines = _stand(message, context)
        case MessageKind.ACKNOWLEDGED:
            title, lines = _acknowledged(message, context)
        case MessageKind.RETURNED:
            title, lines = _returned(message, context)
        case _:
            title, lines = _call(message, context)
    signed = (*lines, f"{plain(context.site, 60)} #{message.ref}")
    return Text(plain(title, _TITLE), "\n".join(filter(None, signed)))


def _call(message: Message, context: MessageContext) -> tuple[str, Iterable[str]]:
    """Every kind that wants somebody to act."""
    if not message.alarms:
        return f"{_how_many(message)}", (f"{_how_many(message)}: see the page", _acknowledge(message, context))
    first = message.alarms[0]
    title = f"{_opening(message)}{first.priority.value.upper()} {where(first)}: {found(first)}"
    story = _story(message)
    return title, (story, *_block(first, message, context), *_others(message), _acknowledge(message, context))


def _opening(message: Message) -> str:
    match message.kind:
        case MessageKind.MORE:
            return "ALSO "
        case MessageKind.REMINDER:
            return "STILL NOT ACKNOWLEDGED: "
        case MessageKind.ESCALATION:
            return "NOBODY HAS ANSWERED: "
        case MessageKind.HELD_BACK:
            return f"{_how_many(message)}, the worst: "
        case _:
            return ""


def _story(message: Message) -> str:
    called = names(message.called_before)
    match message.kind:
        case MessageKind.REMINDER:
            who = f" Called so far: {called}." if called else ""
            return f"Not acknowledged for {so_long(message.at_utc_s - _oldest_utc_s(message))}.{who}"
        case MessageKind.ESCALATION:
            return f"Called before, no answer: {called}." if called else "Nobody called before has answered."
        case MessageKind.HELD_BACK:
            return f"Too many alarms to call you for each: {_how_many(message)} in one message."
        case MessageKind.MORE:
            return "More alarms since the last message."
        case _:
            return ""


def _block(alarm: ToldAlarm, message: Message, context: MessageContext) -> tuple[str, ...]:
    """The alarm that matters most, whole."""
    begun = f"{since(alarm, message, context)} ({so_long(message.at_utc_s - alarm.at_utc_s)} ago)"
    gone = f", back to normal after {_lasted(alarm)}" if alarm.returned_utc_s is not None else ""
    outlook = plain(context.outlook(alarm.collector)) if alarm.collector else ""
    return (
        f"{where(alarm)}: {found(alarm)}",
        f"Alarm {plain(alarm.tag, 60)}, priority {alarm.priority.value}, {begun}{gone}",
        f"DP {outlook}" if outlook else "",
        _explained(alarm.explains),
        *behind(alarm),
    )


def _explained(count: int) -> str:
    if not count:
        return ""
    follow = "1 more alarm follows" if count == 1 else f"{count} more alarms follow"
    return f"{follow} from this one and {'is' if count == 1 else 'are'} held back under it"


def _others(message: Message) -> tuple[str, ...]:
    listed = tuple(f"- {_line(alarm)}" for alarm in message.alarms[1:LISTED])
    left = len(message.alarms[LISTED:]) + message.held_back
    more = f"and {left} more: see the page" if left else ""
    return ("Also:" if listed else "", *listed, more)


def _line(alarm: ToldAlarm) -> str:
    gone = ", back to normal" if alarm.returned_utc_s is not None else ""
    return f"{alarm.priority.value} {where(alarm)} {plain(alarm.tag, 60)}: {plain(found(alarm), 120)}{gone}"


def _acknowledge(message: Message, context: MessageContext) -> str:
    if context.link:
        return f"Acknowledge: {context.link}"
    if not message.may_acknowledge:
        return "Acknowledging is not yours: call somebody who may"
    tags = " ".join(plain(alarm.tag, 60) for alarm in message.alarms[:LISTED])
    by_command = f", or on the machine: cakewatch ack site.yaml {tags}" if tags else ""
    return f"Acknowledge: on the page{by_command}"


def _acknowledged(message: Message, context: MessageContext) -> tuple[str, Iterable[str]]:
    by, at = plain(message.by, 60) or "somebody", by_the_clock(message.at_utc_s, message.at_utc_s, context.zone)
    first = f"{where(message.alarms[0])} {plain(message.alarms[0].tag, 60)}" if message.alarms else "the alarms"
    more = f" and {len(message.alarms) - 1} more" if len(message.alarms) > 1 else ""
    alarm = message.alarms[0] if message.alarms else None
    told = answer(by, f"{first}{more}", alarm, context, message.at_utc_s)
    lines = (f"- {_line(alarm)}, {since(alarm, message, context)}" for alarm in message.alarms[:LISTED])
    why = because(alarm)
    said = f"{told}, {why}" if why else f"{told} at {at}"
    return told, (f"{said}. Nobody is called for it any more.", *lines)


def _returned(message: Message, context: MessageContext) -> tuple[str, Iterable[str]]:
    first = f"{where(message.alarms[0])} {plain(message.alarms[0].tag, 60)}" if message.alarms else "the alarms"
    more = f" and {len(message.alarms) - 1} more" if len(message.alarms) > 1 else ""
    lines = (_return(alarm, message, context) for alarm in message.alarms[:LISTED])
    return f"Back to normal: {first}{more}", lines


def _return(alarm: ToldAlarm, message: Message, context: MessageContext) -> str:
    at_utc_s = message.at_utc_s if alarm.returned_utc_s is None else alarm.returned_utc_s
    at = by_the_clock(at_utc_s, message.at_utc_s, context.zone)
    seen = f"acknowledged by {plain(alarm.acknowledged_by, 60)}" if alarm.acknowledged_by else "not acknowledged"
    return (
        f"{where(alarm)} {plain(alarm.tag, 60)} is back to normal at {at}, {seen}. "
        f"It was: {plain(found(alarm), 120)}, {since(alarm, message, context)}, for {_lasted(alarm, at_utc_s)}"
    )


def _stand(message: Message, context: MessageContext) -> tuple[str, Iterable[str]]:
    stand, at = context.stand, by_the_clock(message.at_utc_s, message.at_utc_s, context.zone)
    troubles = wording_stand.troubles(stand)
    title = "NOT all well" if troubles else "All well"
    lines = [f"- {one}" for one in (*troubles, wording_stand.watched(stand), *wording_stand.remarks(stand))]
    return f"{title} at {plain(context.site, 60)}", (f"{title} at {at}:", *lines)


def _test(message: Message) -> tuple[str, Iterable[str]]:
    to = f"{plain(message.person, 60)} by {plain(message.channel, 60)}"
    asked = f"{plain(message.by, 60)} asked for it. " if message.by else ""
    return "Test message", (f"This is a test for {to}. {asked}Alarms reach you this way. Nothing to do.",)


def _how_many(message: Message) -> str:
    count = len(message.alarms) + message.held_back
    return "1 alarm" if count == 1 else f"{count} alarms"


def _oldest_utc_s(message: Message) -> float:
    return min((alarm.at_utc_s for alarm in message.alarms), default=message.at_utc_s)


def _lasted(alarm: ToldAlarm, until_utc_s: float | None = None) -> str:
    until = alarm.returned_utc_s if until_utc_s is None else until_utc_s
    return so_long((alarm.at_utc_s if until is None else until) - alarm.at_utc_s)
