"""Lifecycle: one alarm through time. (settings, alarm, what is seen, now) → (alarm, transitions).

Time is an argument. What was seen last is taken to hold until something else is seen, so a timer that fell due
between two looks fires first, at the moment it fell due; cutting a stretch of time into smaller steps changes
nothing. While the alarm is blind (no trustworthy DP), its clocks stand still and its state cannot change by
itself: losing sight neither raises, returns nor clears anything.

A held alarm is followed all the same: its delays run, and move ``stands`` where they would have moved the state.
Only while its condition means nothing (the fan stands still) do they stand still too. When the design releases an
alarm that had not been announced before, its on-delay begins anew; one that had been stands as it stood.
"""

import math
from dataclasses import replace

from monitor.judge.alarm import Alarm, Presence, Step, Timer, Transition
from monitor.judge.moves import Note, follow, move
from monitor.judge.settings import AlarmSettings
from monitor.judge.table import HELD, Trigger
from monitor.words import AlarmState, Hold, HoldReason, Instant

#: A person's holds: the end of a design's hold ends neither.
_PUT_ASIDE = frozenset({AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE})


def advance(settings: AlarmSettings, alarm: Alarm, seen: Presence, now: Instant) -> Step:
    """Let time pass until ``now``, then take in what is seen now.

    ``now`` must not lie before the moment of the step before.
    """
    alarm, fired = _elapse(settings, alarm, now)
    alarm = _look(settings, alarm, seen, now.mono_s)
    alarm, fired_now = _elapse(settings, alarm, now)
    return alarm, fired + fired_now


def command(settings: AlarmSettings, alarm: Alarm, trigger: Trigger, now: Instant, note: Note = None) -> Step:
    """A person acts; where the table has no row nothing changes. ``note`` is the shelf or removal that begins."""
    alarm, fired = _elapse(settings, alarm, now)
    alarm, done = move(settings, alarm, trigger, now, note)
    return alarm, fired + done


def hold(settings: AlarmSettings, alarm: Alarm, what: Hold | None, now: Instant) -> Step:
    """From now on the design holds the alarm back, for another reason than before, or no longer."""
    if what is not None and what.why is HoldReason.CONSEQUENCE:
        return _explained(settings, alarm, what, now)
    alarm, fired = _elapse(settings, alarm, now)
    if what == alarm.hold:
        return alarm, fired
    if what is None:
        released, done = move(settings, _put(alarm, None, now.mono_s), Trigger.RELEASE, now, alarm.hold)
        return released, fired + done
    alarm, done = follow(settings, _put(alarm, what, now.mono_s), now)
    return alarm, fired + done


def _explained(settings: AlarmSettings, alarm: Alarm, what: Hold, now: Instant) -> Step:
    """A cause holds the alarm back: what has fallen due by now, unnoticed until now, happens under it already."""
    held, fired = follow(settings, _put(alarm, what, now.mono_s), now)
    held, done = _elapse(settings, held, now)
    return held, fired + done


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
    settings: AlarmSettings,
    alarm: Alarm,
    trigger: Trigger,
    now: Instant,
    looked_s: float,
    note: Note = None,
) -> Step:
    """As ``command``, but nothing falls due by it: the time since the last look is not vouched for yet."""
    paused = _stand_still(alarm, looked_s)
    acted, fired = command(settings, paused, trigger, now, note)
    return _resumed(settings, alarm, paused, acted, now.mono_s, looked_s), fired


def hold_between(settings: AlarmSettings, alarm: Alarm, what: Hold | None, now: Instant, looked_s: float) -> Step:
    """As ``hold``, but nothing of the condition falls due by it."""
    paused = _stand_still(alarm, looked_s)
    held, fired = hold(settings, paused, what, now)
    return _resumed(settings, alarm, paused, held, now.mono_s, looked_s), fired


def pass_time(settings: AlarmSettings, alarm: Alarm, now: Instant, looked_s: float) -> Step:
    """Time passed without a look: only the end of a shelf can come by that."""
    if now.mono_s < shelf_end_s(alarm):
        return alarm, ()
    paused = _stand_still(alarm, looked_s)
    ended, fired = _elapse(settings, paused, now)
    return _resumed(settings, alarm, paused, ended, now.mono_s, looked_s), fired


def due_s(settings: AlarmSettings, alarm: Alarm) -> float:
    """When the next timer will fire if nothing else is seen; ``inf`` for never."""
    trigger_at = _next(settings, alarm)
    return math.inf if trigger_at is None else trigger_at[1]


def keep_promise(alarm: Alarm, now: Instant) -> Alarm:
    """After a start: a shelf ends when the wall clock says what was promised, though nobody counted meanwhile.

    A wall clock that is behind (a board without a battery) makes no shelf longer than what was left of it.
    """
    if alarm.shelf is None:
        return alarm
    left_s = max(0.0, alarm.shelf.until_utc_s - now.utc_s)
    until_s = min(alarm.shelf.until_s, now.mono_s + left_s)
    return replace(alarm, shelf=alarm.shelf._replace(until_s=until_s))


def shelf_end_s(alarm: Alarm) -> float:
    """When the shelf ends, on the scan clock; ``inf`` for an alarm that is not shelved."""
    return math.inf if alarm.shelf is None else alarm.shelf.until_s


def pause(alarm: Alarm, now_s: float) -> Alarm:
    """The alarm as of a moment from which on nothing is seen: its clocks stand still and nothing fires."""
    still = _stand_still(alarm, now_s)
    return still if alarm.blind else replace(still, delay=_begun(still.delay), returned=_begun(still.returned))


def _look(settings: AlarmSettings, alarm: Alarm, seen: Presence, now_s: float) -> Alarm:
    """Take in the condition: edges start and stop the delays; blindness stops every clock."""
    if seen is Presence.BLIND:
        return pause(alarm, now_s)
    present = seen is Presence.PRESENT
    if not alarm.blind and present == alarm.present:
        return alarm
    if alarm.is_out_of_context:
        alarm = replace(_seeing_again(alarm, now_s), present=present)
        return _standing(alarm, stands=alarm.stands and present, now_s=now_s)
    delay = alarm.delay if present == alarm.present else _eased(alarm.easing, now_s)
    # A delay is owed while the condition and what stands of it disagree.
    owed = present != alarm.stands
    easing = None
    if settings.counts_back and not present:
        if alarm.present and alarm.delay is not None:
            easing = Timer(alarm.delay.stopped(now_s).counted_s, now_s)
        elif alarm.easing is not None:
            easing = alarm.easing.started(now_s)
    return replace(
        _seeing_again(alarm, now_s),
        present=present,
        delay=(delay or Timer(0.0, None)).started(now_s) if owed else None,
        easing=easing,
    )


def _seeing_again(alarm: Alarm, now_s: float) -> Alarm:
    """Its clocks that run whatever is seen go on."""
    # Started anew at each edge: an auto-clear that was held up by the condition falls due when it goes.
    returned = None if alarm.returned is None else alarm.returned.stopped(now_s).started(now_s)
    return replace(alarm, blind=False, returned=returned)


def _eased(easing: Timer | None, now_s: float) -> Timer | None:
    """What is left of an on-delay that was counted back since its condition went."""
    if easing is None:
        return None
    passed_s = 0.0 if easing.since_s is None else now_s - easing.since_s
    return Timer(max(0.0, easing.counted_s - passed_s), None)


def _stand_still(alarm: Alarm, now_s: float) -> Alarm:
    if alarm.blind:
        return alarm
    return replace(
        alarm,
        blind=True,
        delay=None if alarm.delay is None else alarm.delay.stopped(now_s),
        easing=_eased(alarm.easing, now_s),
        returned=None if alarm.returned is None else alarm.returned.stopped(now_s),
    )


def _begun(timer: Timer | None) -> Timer | None:
    """A clock that began after the moment at which all stand still has counted nothing, not less than that."""
    return None if timer is None else Timer(max(0.0, timer.counted_s), timer.since_s)


def _put(alarm: Alarm, what: Hold | None, now_s: float) -> Alarm:
    """The alarm with another hold, or none, before the table is asked what follows from that."""
    held = replace(alarm, hold=what)
    if held.is_out_of_context:
        held = _standing(held, stands=alarm.stands and alarm.present, now_s=now_s)
        return replace(held, delay=None, easing=None)
    if what is None and alarm.kept is AlarmState.NORMAL and alarm.state not in _PUT_ASIDE:
        # Never announced, and until now explained: it has its whole on-delay to show that it is still there,
        # or forty transmitters would be announced for the moment between their link's return and their reading.
        held = _standing(held, stands=False, now_s=now_s)
    elif not alarm.is_out_of_context:
        return held
    # What the condition did while it meant nothing counts for nothing: its delay begins now.
    owed = alarm.present != held.stands
    return replace(held, delay=Timer(0.0, None if alarm.blind else now_s) if owed else None, easing=None)


def _resumed(
    settings: AlarmSettings, before: Alarm, paused: Alarm, after: Alarm, now_s: float, looked_s: float
) -> Alarm:
    """The alarm with its clocks running again as of the last look; those that began just now count from now."""
    ahead = Timer(0.0 if before.blind else looked_s - now_s, None)
    if after.delay is not None and after.delay is not paused.delay:
        after = replace(after, delay=ahead)
    if after.returned is not None and after.returned is not paused.returned:
        after = replace(after, returned=ahead)
    seen = Presence.BLIND if before.blind else Presence.PRESENT if before.present else Presence.ABSENT
    return _look(settings, after, seen, looked_s)


def _elapse(settings: AlarmSettings, alarm: Alarm, now: Instant, *, at_once: bool = True) -> Step:
    """Fire every timer that falls due until now, earliest first: each at its own moment, or all of them now."""
    fired: tuple[Transition, ...] = ()
    while (due := _next(settings, alarm)) is not None and due[1] <= now.mono_s:
        trigger, at_s = due
        at = Instant(at_s, now.utc_s - (now.mono_s - at_s)) if at_once else now
        if alarm.is_mute and trigger in (Trigger.RAISE, Trigger.RETURN):
            alarm = _standing(alarm, stands=trigger is Trigger.RAISE, now_s=at.mono_s)
            alarm = replace(alarm, delay=None)
            continue
        alarm, done = move(settings, alarm, trigger, at)
        fired += done
    return alarm, fired


def _standing(alarm: Alarm, *, stands: bool, now_s: float) -> Alarm:
    """A held alarm's condition has come or gone: noted, not announced."""
    if stands == alarm.stands:
        return alarm
    # Of an alarm that nobody will be told of any more, the next condition is another occurrence.
    over = not stands and alarm.state in HELD and alarm.kept is AlarmState.NORMAL
    return replace(
        alarm,
        stands=stands,
        raised_utc_s=None if over else alarm.raised_utc_s,
        # What waits has to be normal for the whole time anew: unheard or not, it was not normal meanwhile.
        returned=None if alarm.returned is None else Timer(0.0, None if alarm.blind else now_s),
    )


def _next(settings: AlarmSettings, alarm: Alarm) -> tuple[Trigger, float] | None:
    """The timer that falls due first, and when."""
    best: tuple[Trigger, float] | None = None
    if alarm.delay is not None:
        if alarm.present:
            best = (Trigger.RAISE, alarm.delay.due_s(settings.on_delay_s))
        else:
            best = (Trigger.RETURN, alarm.delay.due_s(settings.off_delay_s))
    # While the condition is there again (its on-delay running) the process is not normal: no timed clear.
    is_normal = not (alarm.present or alarm.stands)
    if settings.auto_clear_s is not None and alarm.returned is not None and is_normal:
        # Then no delay is owed either, so nothing else of the condition can fall due.
        best = (Trigger.AUTO_CLEAR, alarm.returned.due_s(settings.auto_clear_s))
    if alarm.shelf is not None and (best is None or alarm.shelf.until_s < best[1]):
        best = (Trigger.SHELF_END, alarm.shelf.until_s)
    return best
