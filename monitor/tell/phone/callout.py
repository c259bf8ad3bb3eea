"""Callout: alarms of one cause, who was called for them, and what is to be done next."""

import math
from enum import StrEnum
from typing import NamedTuple

from monitor.tell.phone.message import ToldAlarm

#: Alarms in one callout; further ones of the same cause begin another (our choice, bounds what is written).
MOST_ENTRIES = 100


class Standing(StrEnum):
    """How an alarm stands towards the people who may be called for it.

    ``over``: it returned and nobody need answer it any more; ``answered``: a person did.
    """

    STANDING = "standing"
    RETURNED = "returned"
    OVER = "over"
    ANSWERED = "answered"


class Entry(NamedTuple):
    """One raising of an alarm within a callout.

    Attributes:
        joined_s: when it came, scan seconds.
        told: it is part of a message to those who were called.
        delivered: somebody has got such a message.
        return_told: those who wanted to know heard that it returned.
    """

    alarm: ToldAlarm
    joined_s: float
    standing: Standing = Standing.STANDING
    told: bool = False
    delivered: bool = False
    return_told: bool = False

    @property
    def stands(self) -> bool:
        """Whether people are called for it."""
        return self.standing is Standing.STANDING

    @property
    def is_owed(self) -> bool:
        """Whether somebody must still get it: it stands, or it is over and nobody ever heard of it."""
        return self.stands or (self.standing is not Standing.ANSWERED and not self.delivered)


class Callout(NamedTuple):
    """Alarms of one cause for which people of one route are called.

    Attributes:
        key: the event that began it.
        route: its name.
        causes: see ``causes``.
        began_s: scan seconds; moved on by the time in which nothing stood.
        step: how many steps of the route were taken.
        called: everybody for whom a message was made, in that order.
        reached: those who got one.
        remind_s: when all called are called again, scan seconds.
        stopped_s: since when nothing stands, scan seconds; None while something does.
        hurry: those called so far cannot be reached: the next step comes at once.
        steps_left: the route has more steps.
        unreached: nobody can be reached for one of its alarms.
        recheck_s: when to look who is on duty by now, while nobody can be reached.
        out: person and ref of every message about its alarms that is not delivered.
        due_s: when it must be looked at, scan seconds.
    """

    key: str
    route: str
    causes: tuple[str, ...]
    began_s: float
    began_utc_s: float
    entries: tuple[Entry, ...]
    step: int = 0
    called: tuple[str, ...] = ()
    reached: tuple[str, ...] = ()
    reminders: int = 0
    remind_s: float = math.inf
    stopped_s: float | None = None
    hurry: bool = False
    steps_left: bool = True
    unreached: bool = False
    recheck_s: float = math.inf
    out: tuple[tuple[str, str], ...] = ()
    due_s: float = math.inf

    @property
    def stands(self) -> bool:
        """Whether people are called for any of its alarms."""
        return any(entry.stands for entry in self.entries)


def most_urgent_first(alarms: tuple[ToldAlarm, ...]) -> tuple[ToldAlarm, ...]:
    """By priority, then by time."""
    return tuple(sorted(alarms, key=lambda alarm: (-alarm.priority.rank, alarm.at_utc_s, alarm.event_id)))
