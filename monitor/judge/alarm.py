"""Alarm: all that must be remembered of one alarm, and what one change of its state says."""

import math
from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

from monitor.judge.table import HELD
from monitor.words import AlarmState, Cause, Hold, HoldReason, Instant, Removal, Shelf


class Presence(Enum):
    """What can be seen of the alarm's condition."""

    PRESENT = "present"
    ABSENT = "absent"
    BLIND = "blind"


class Timer(NamedTuple):
    """Seconds counted so far, and since when it runs on the scan clock (None: it stands still)."""

    counted_s: float
    since_s: float | None

    def due_s(self, length_s: float) -> float:
        """When it will have counted ``length_s``; never, while it stands still."""
        if self.since_s is None:
            return math.inf
        # One that was overdue when it was started falls due then, not in the past.
        return self.since_s + max(0.0, length_s - self.counted_s)

    def stopped(self, now_s: float) -> "Timer":
        """The same count, standing still from now on."""
        return self if self.since_s is None else Timer(self.counted_s + now_s - self.since_s, None)

    def started(self, now_s: float) -> "Timer":
        """The same count, running from now on."""
        return self if self.since_s is not None else Timer(self.counted_s, now_s)


@dataclass(frozen=True, slots=True)
class Alarm:
    """All that must be remembered of one alarm.

    Attributes:
        present: the condition, deadband applied, as last seen.
        blind: whether nothing can be seen at the moment.
        delay: the on-delay or off-delay that is being counted.
        returned: counts the time since the return to normal, for the auto-clear.
        seen: a person acknowledged since it was raised.
        easing: for an alarm that counts back: the on-delay counted when the condition went, and when that was.
        raised_utc_s, since_utc_s: stamps of the raising and of the present state.
        stands: the condition with its delays applied, followed also while the alarm is held; of an alarm that is
            not held it is the same as being active.
        kept: what it was before it was suppressed by design.
        hold: what holds it back by design, also under a shelf, out of service or while it waits for an answer.
        shelf, removal: who put it aside or took it out of service, in those two states.
    """

    state: AlarmState = AlarmState.NORMAL
    present: bool = False
    blind: bool = False
    delay: Timer | None = None
    returned: Timer | None = None
    seen: bool = False
    raised_utc_s: float | None = None
    since_utc_s: float | None = None
    easing: Timer | None = None
    stands: bool = False
    kept: AlarmState = AlarmState.NORMAL
    hold: Hold | None = None
    shelf: Shelf | None = None
    removal: Removal | None = None

    @property
    def is_mute(self) -> bool:
        """Whether what its condition does moves ``stands`` alone and announces nothing."""
        return self.hold is not None or self.state in HELD

    @property
    def is_out_of_context(self) -> bool:
        """Whether its condition means nothing at the moment (the fan stands still, the process cleans)."""
        return self.hold is not None and self.hold.why is not HoldReason.CONSEQUENCE


class Transition(NamedTuple):
    """One change of state: from where to where, by whom or what, and exactly when.

    Attributes:
        note: the hold, shelf or removal that began or ended by it.
        stands: whether the condition stands, delays applied, after it.
    """

    tag: str
    happened: str
    before: AlarmState
    state: AlarmState
    cause: Cause
    at: Instant
    raised_utc_s: float | None
    seen: bool
    note: Hold | Shelf | Removal | None
    stands: bool


Step = tuple[Alarm, tuple[Transition, ...]]
