"""Message: what one person is told at one time, and what became of an attempt to tell it."""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from monitor.troubles import Suspicion
from monitor.words import Priority


class MessageKind(StrEnum):
    """Why somebody is told something."""

    ALARM = "alarm"
    MORE = "more"
    REMINDER = "reminder"
    ESCALATION = "escalation"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned"
    HELD_BACK = "held_back"
    ALL_WELL = "all_well"
    TEST = "test"


class ToldAlarm(NamedTuple):
    """One alarm as it is told.

    Attributes:
        event_id: of the event that raised it.
        returned_utc_s: when it returned to normal; None while it stands.
        text: the sentence of the journal.
        what: what the alarm found, as half a sentence (``wording.what_was_found``); empty: it is in the text.
        check: where to look first where there are no suspicions (``wording.look_first``).
        explains: how many alarms are held back as consequences of this one.
        answered: what ended the calls for it, as the event says (``acknowledged``, ``shelved``…); else empty.
        answered_why: the reason a person gave for that.
        answered_until_utc_s: until when it was shelved.
    """

    event_id: str
    tag: str
    at_utc_s: float
    priority: Priority
    text: str
    collector: str | None = None
    link: str | None = None
    occurrence: str = ""
    value: float | None = None
    setpoint: float | None = None
    unit: str = ""
    suspicions: tuple[Suspicion, ...] = ()
    returned_utc_s: float | None = None
    acknowledged_by: str = ""
    what: str = ""
    check: str = ""
    explains: int = 0
    answered: str = ""
    answered_why: str = ""
    answered_until_utc_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """One message to one person through one channel, ready to be worded and sent.

    Attributes:
        ref: short (8 letters and digits), the same whenever this message is offered again, whatever channel is
            tried, also after a restart; part of every text, so that the receiver knows a repeat.
        person, channel: names in the settings.
        attempt: from 1, over all channels.
        alarms: the most urgent first.
        held_back: further alarms that flood control put together and that ``alarms`` does not have.
        called_before: for an escalation and a reminder: who was called and has not acknowledged.
        by: who acknowledged.
        link_wanted: the message asks for an acknowledgement, and this person may give it by a link.
        may_acknowledge: the person may; else the message says that another must.
        at_utc_s: of a call when it is offered, of any other message when what it tells happened.
    """

    ref: str
    kind: MessageKind
    person: str
    channel: str
    attempt: int
    alarms: tuple[ToldAlarm, ...] = ()
    held_back: int = 0
    called_before: tuple[str, ...] = ()
    by: str = ""
    link_wanted: bool = False
    may_acknowledge: bool = True
    at_utc_s: float = 0.0


class Sent(NamedTuple):
    """What became of one attempt.

    Attributes:
        took_s: real seconds.
        why: a short phrase without secrets; empty where it was delivered.
    """

    delivered: bool
    took_s: float
    why: str = ""
