"""Alarm settings: when an alarm is raised, how long it is held, and what ends it."""

from dataclasses import dataclass
from enum import StrEnum

from monitor.words import Priority


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmSettings:
    """What every alarm has, whatever its condition.

    Attributes:
        tag: unique over the site; ISA-5.1 style (PDAH-101).
        on_delay_s: the condition must hold this long before the alarm is raised, 0 or more.
        off_delay_s: it must be gone this long before the alarm has returned to normal, 0 or more.
        latching: held after the return to normal until a person or the auto-clear timer clears it.
        auto_clear_s: a latched (or returned, unacknowledged) alarm is cleared by the timer this long after its
            return to normal; None: only a person clears it. An active alarm is never cleared by a timer.
        counts_back: a condition that goes during the on-delay does not end the count but turns it back at the
            same pace: a signal that is bad most of the time is a bad signal, even if it is good now and then.
        causes: tags of alarms that explain this one: while one of them stands, this one is held back under it.
    """

    tag: str
    priority: Priority
    on_delay_s: float
    off_delay_s: float
    latching: bool
    auto_clear_s: float | None
    counts_back: bool = False
    causes: tuple[str, ...] = ()


class Side(StrEnum):
    """Which side of its set point a band warns of."""

    ABOVE = "above"
    BELOW = "below"


class Judged(StrEnum):
    """What a band is compared with."""

    DAMPED = "damped"
    RESIDUAL = "residual"
    AVERAGE = "average"


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """One warning band on the DP of one collector.

    The condition comes at or beyond the set point, and goes when the DP is inside it by more than the
    deadband. Deadband first, then on-delay, then off-delay (the order of ISA-TR18.2.3 practice).
    """

    alarm: AlarmSettings
    side: Side
    setpoint_inh2o: float
    deadband_inh2o: float
    judged: Judged = Judged.DAMPED


@dataclass(frozen=True, slots=True)
class Notice:
    """An alarm whose condition somebody else sees: it is present while its tag is among those that stand."""

    alarm: AlarmSettings


#: What an alarm goes by; None: the bad signal's, which goes by the signal itself.
Condition = Band | Notice | None
