"""State: everything the phone must not forget, and what a look at the time brought."""

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from monitor.tell.phone.callout import Callout
from monitor.tell.phone.errand import Box, Lane
from monitor.tell.phone.message import Message, ToldAlarm
from monitor.words import Event

_NOTHING: Mapping[str, str] = MappingProxyType({})


class Awaited(NamedTuple):
    """An acknowledged alarm whose return to normal is still to be told.

    Attributes:
        reached: those who got a message about it.
    """

    alarm: ToldAlarm
    route: str
    reached: tuple[str, ...]


class RelayState(NamedTuple):
    """Everything the phone must not forget; bounded. Its mappings are never changed in place.

    Attributes:
        seq: the last event that was taken in.
        callouts: by key.
        boxes: by person.
        lanes: by person and channel, see ``lane_key``.
        by_tag: in which callout an alarm is, by its tag.
        by_cause: which callout alarms of a cause join, by route and cause.
        awaited: acknowledged alarms whose return is still to be told, by tag.
        explains: how many alarms are held back as consequences, by the tag of their cause.
        held_back: alarms that flood control put together since the daemon started.
        well_utc_s: the last hour at which it was told that all is well, or that was passed over.
        well_due_s: when to look for the next, scan seconds.
    """

    seq: int = 0
    callouts: Mapping[str, Callout] = MappingProxyType({})
    boxes: Mapping[str, Box] = MappingProxyType({})
    lanes: Mapping[str, Lane] = MappingProxyType({})
    by_tag: Mapping[str, str] = _NOTHING
    by_cause: Mapping[str, str] = _NOTHING
    awaited: Mapping[str, Awaited] = MappingProxyType({})
    explains: Mapping[str, int] = MappingProxyType({})
    held_back: int = 0
    well_utc_s: float | None = None
    well_due_s: float = -math.inf


class Due(NamedTuple):
    """What a look at the time brought.

    Attributes:
        messages: to be handed to the gateways now; each counts as on its way until it is settled.
        events: to be journaled.
    """

    state: RelayState
    messages: tuple[Message, ...] = ()
    events: tuple[Event, ...] = ()


def lane_key(person: str, channel: str) -> str:
    """Under which the state keeps how that channel of that person is doing."""
    return f"{person}\n{channel}"
