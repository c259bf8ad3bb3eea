"""Lifecycle: one alarm through time. (settings, alarm, what is seen, now) → (alarm, transitions).

Time is an argument. What was seen last is taken to hold until something else is seen, so a timer that fell due
between two looks fires first, at the moment it fell due; cutting a stretch of time into smaller steps changes
nothing. While the alarm is blind (no trustworthy DP), its clocks stand still and its state cannot change by
itself: losing sight neither raises, returns nor clears anything.
"""

import math
from dataclasses import dataclass, replace
from enum import Enum
from typing import NamedTuple

from monitor.judge.settings import AlarmSettings
from monitor.judge.table import ACTIVE, WAITING, Trigger, look_up
from monitor.words import AlarmState, Cause, Instant


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


class Transition(NamedTuple):
    """One change of state: from where to where, by whom or what, and exactly when."""

    tag: str
    happened: str
    before: AlarmState
    state: AlarmState
    cause: Cause
    at: Instant
    raised_utc_s: float | None
    seen: bool


Step = tuple[Alarm, tuple[Transition, ...]]


def advance(settings: AlarmSettings, alarm: Alarm, seen: Presence, now: Instant) -> Step:
    """Let time pass until ``now``, then take in what is seen now.

    ``now`` must not lie before the moment of the step before.
    """
    alarm, fired = _elapse(settings, alarm, now)
    alarm = _look(settings, alarm, seen, now.mono_s)
    alarm, fired_now = _elapse(settings, alarm, now)
    return alarm, fired + fired_now


def command(settings: AlarmSettings, alarm: Alarm, trigger: Trigger, now: Instant) -> Step:
    """A person acknowledges or clears; where the table has no row nothing changes."""
    alarm, fired = _elapse(settings, alarm, now)
    alarm, done = _move(settings, alarm, trigger, now)
    return alarm, fired + done


def confirm(settings: AlarmSettings, alarm: Alarm, seen: Presence, now: Instant, looked_s: float) -> Step:
    """As ``advance``, but the time since the last look counts only if now the same is seen as then.

    Between two looks nobody looked. Where both saw the same, it is taken to have been so in between, and what
    fell due meanwhile happens now, when it is known; where they differ, or where nothing is seen now, every
    clock is set back to the last look, at ``looked_s``.
    """
    if not alarm.blind and seen is (Presence.PRESENT if alarm.present else Presence.ABSENT):
        return _elapse(settings, alarm, now, at_once=False)
    return advance(settings, pause(alarm, looked_s), seen, now)


def command_between(
    settings: AlarmSettings, alarm: Alarm, trigger: Trigger, now: Instant, looked_s: float
) -> Step:
    """As ``command``, but nothing falls due by it: the time since the last look is not vouched for yet."""
    held, fired = command(settings, pause(alarm, looked_s), trigger, now)
    seen = Presence.BLIND if alarm.blind else Presence.PRESENT if alarm.present else Presence.ABSENT
    return _look(settings, held, seen, looked_s), fired


def due_s(settings: AlarmSettings, alarm: Alarm) -> float:
    """When the next timer will fire if nothing else is seen; ``inf`` for never."""
    trigger_at = _next(settings, alarm)
    return math.inf if trigger_at is None else trigger_at[1]


def pause(alarm: Alarm, now_s: float) -> Alarm:
    """The alarm as of a moment from which on nothing is seen: its clocks stand still and nothing fires."""
    return alarm if alarm.blind else _stand_still(alarm, now_s)


def _look(settings: AlarmSettings, alarm: Alarm, seen: Presence, now_s: float) -> Alarm:
    """Take in the condition: edges start and stop the delays; blindness stops every clock."""
    if seen is Presence.BLIND:
        return pause(alarm, now_s)
    present = seen is Presence.PRESENT
    if not alarm.blind and present == alarm.present:
        return alarm
    delay = alarm.delay if present == alarm.present else _eased(alarm.easing, now_s)
    # A delay is owed while the condition and the state disagree.
    owed = present != (alarm.state in ACTIVE)
    easing = None
    if settings.counts_back and not present and alarm.delay is not None and alarm.present:
        easing = Timer(alarm.delay.stopped(now_s).counted_s, now_s)
    return replace(
        alarm,
        present=present,
        blind=False,
        delay=(delay or Timer(0.0, None)).started(now_s) if owed else None,
        easing=easing,
        # Started anew at each edge: an auto-clear that was held up by the condition falls due when it goes.
        returned=None if alarm.returned is None else alarm.returned.stopped(now_s).started(now_s),
    )


def _eased(easing: Timer | None, now_s: float) -> Timer | None:
    """What is left of an on-delay that was counted back since its condition went."""
    if easing is None or easing.since_s is None:
        return None
    return Timer(max(0.0, easing.counted_s - (now_s - easing.since_s)), None)


def _stand_still(alarm: Alarm, now_s: float) -> Alarm:
    return replace(
        alarm,
        blind=True,
        delay=None if alarm.delay is None else alarm.delay.stopped(now_s),
        returned=None if alarm.returned is None else alarm.returned.stopped(now_s),
    )


def _elapse(settings: AlarmSettings, alarm: Alarm, now: Instant, *, at_once: bool = True) -> Step:
    """Fire every timer that falls due until now, earliest first: each at its own moment, or all of them now."""
    fired: tuple[Transition, ...] = ()
    while (due := _next(settings, alarm)) is not None and due[1] <= now.mono_s:
        trigger, at_s = due
        at = Instant(at_s, now.utc_s - (now.mono_s - at_s)) if at_once else now
        alarm, done = _move(settings, alarm, trigger, at)
        fired += done
    return alarm, fired


def _next(settings: AlarmSettings, alarm: Alarm) -> tuple[Trigger, float] | None:
    """The timer that falls due first, and when."""
    best: tuple[Trigger, float] | None = None
    if alarm.delay is not None:
        if alarm.present:
            best = (Trigger.RAISE, alarm.delay.due_s(settings.on_delay_s))
        else:
            best = (Trigger.RETURN, alarm.delay.due_s(settings.off_delay_s))
    # While the condition is there again (its on-delay running) the process is not normal: no timed clear.
    if settings.auto_clear_s is not None and alarm.returned is not None and not alarm.present:
        clear_s = alarm.returned.due_s(settings.auto_clear_s)
        if best is None or clear_s < best[1]:
            best = (Trigger.AUTO_CLEAR, clear_s)
    return None if best is None or best[1] == math.inf else best


def _move(settings: AlarmSettings, alarm: Alarm, trigger: Trigger, at: Instant) -> Step:
    """Make the one step that the table allows, if it allows one."""
    row = look_up(alarm.state, trigger, latching=settings.latching)
    if row is None:
        return alarm, ()
    raised_utc_s = at.utc_s if alarm.state is AlarmState.NORMAL else alarm.raised_utc_s
    seen = (alarm.seen and alarm.state is not AlarmState.NORMAL) or trigger is Trigger.ACKNOWLEDGE
    transition = Transition(settings.tag, row.happened, alarm.state, row.state, row.cause, at, raised_utc_s, seen)
    return _enter(alarm, row.state, at, raised_utc_s, seen=seen), (transition,)


def _enter(alarm: Alarm, state: AlarmState, at: Instant, raised_utc_s: float | None, *, seen: bool) -> Alarm:
    """The alarm in its new state, with the clocks that belong to that state."""
    normal = state is AlarmState.NORMAL
    running_since = None if alarm.blind else at.mono_s
    settled = alarm.present == (state in ACTIVE)
    returned = alarm.returned or Timer(0.0, running_since)
    return Alarm(
        state=state,
        present=alarm.present,
        blind=alarm.blind,
        delay=None if settled else alarm.delay,
        returned=returned if state in WAITING else None,
        seen=seen and not normal,
        raised_utc_s=None if normal else raised_utc_s,
        since_utc_s=at.utc_s,
    )
