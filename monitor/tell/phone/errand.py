"""Errand: one message for one person until it is delivered, and how the person's channels are doing."""

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from monitor.tell.phone.message import MessageKind, ToldAlarm
from monitor.words import Priority

#: Those that call for help; they are what flood control counts and an acknowledgement drops.
CALLS = frozenset(
    {
        MessageKind.ALARM,
        MessageKind.MORE,
        MessageKind.REMINDER,
        MessageKind.ESCALATION,
        MessageKind.HELD_BACK,
    }
)

# Thousands of messages are put in order at a time.
_RANK = {priority: priority.rank for priority in Priority}


class Errand(NamedTuple):
    """One message for one person that is not delivered yet.

    Attributes:
        salt: what makes its ref besides kind, person and alarms.
        callouts: keys of those whose alarms it tells.
        further: events of alarms that count as told by it though ``alarms`` does not have them.
        only: the one channel by which it goes; empty for any.
        channel: number of the person's channel that is next.
        tries: failures on that channel.
        attempt: attempts so far, over all channels.
        rounds: how often all channels were gone through in vain.
        due_s: no attempt before this scan second.
        on_way: a gateway has it.
        asleep: it waits for the end of the person's quiet hours.
        held: it waits because of flood control.
        dropped: nobody needs it any more, but a gateway has it.
        why: of the last failure.
    """

    ref: str
    kind: MessageKind
    person: str
    alarms: tuple[ToldAlarm, ...]
    made_s: float
    made_utc_s: float
    salt: str = ""
    callouts: tuple[str, ...] = ()
    further: tuple[str, ...] = ()
    called_before: tuple[str, ...] = ()
    by: str = ""
    only: str = ""
    channel: int = 0
    tries: int = 0
    attempt: int = 0
    rounds: int = 0
    due_s: float = -math.inf
    on_way: bool = False
    asleep: bool = False
    held: bool = False
    dropped: bool = False
    why: str = ""

    @property
    def is_call(self) -> bool:
        """Whether it calls for help."""
        return self.kind in CALLS

    @property
    def is_urgent(self) -> bool:
        """Whether it is about an alarm of the top priority."""
        return any(alarm.priority is Priority.URGENT for alarm in self.alarms)

    @property
    def rank(self) -> int:
        """Priority of the most urgent alarm; -1 without any."""
        return max([_RANK[alarm.priority] for alarm in self.alarms], default=-1)

    @property
    def ids(self) -> tuple[str, ...]:
        """The events of all alarms that it tells."""
        return (*[alarm.event_id for alarm in self.alarms], *self.further)


class Lane(NamedTuple):
    """How one channel of one person is doing.

    Attributes:
        failures: in a row.
        retry_s: while it is failing: no attempt before this scan second.
        busy: the ref of the message on its way; empty for none.
        why: of the last failure.
    """

    failures: int = 0
    retry_s: float = -math.inf
    busy: str = ""
    why: str = ""


class Box(NamedTuple):
    """What one person has still to get.

    Attributes:
        errands: by ref, in the order in which they were made.
        calls_s, notices_s: when the last messages were first tried, scan seconds, within the flood window.
        due_s: when it must be looked at, scan seconds.
    """

    errands: Mapping[str, Errand] = MappingProxyType({})
    calls_s: tuple[float, ...] = ()
    notices_s: tuple[float, ...] = ()
    due_s: float = math.inf
