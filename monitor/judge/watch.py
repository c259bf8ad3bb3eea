"""Watch: all the alarms of one collector together: who is looked at first, and who is held back under whom."""

import math
from collections.abc import Callable, Mapping

from monitor.judge.alarm import Alarm, Presence, Step, Transition
from monitor.judge.calm import (
    INDEX,
    Bands,
    Seen,
    Watch,
    is_calm,
    notice_presence,
    presence_of,
    settings_of,
    settled,
)
from monitor.judge.lifecycle import (
    advance,
    command_between,
    confirm,
    hold,
    hold_between,
    pass_time,
    pause,
)
from monitor.judge.moves import Note
from monitor.judge.settings import AlarmSettings, Band, Condition, Notice
from monitor.judge.table import Trigger
from monitor.words import AlarmState, Hold, HoldReason, Instant

#: A band of which nothing is remembered; one object serves for all.
UNSEEN = Alarm(blind=True)

Looked = tuple[Watch, tuple[Transition, ...]]

#: What happens to one alarm, whatever holds it back.
Judge = Callable[[AlarmSettings, Condition, Alarm], Step]


def begin(bands: Bands, alarms: Mapping[str, Alarm]) -> Watch:
    """Begin, or go on with remembered alarms; tags without a memory begin normal, others are dropped."""
    # Nothing has been seen of a band yet; a signal, on the other hand, is good until it is known to be bad.
    own = {one.alarm.tag: alarms.get(one.alarm.tag, UNSEEN) for one in bands.at_readings}
    own[bands.bad_signal.tag] = alarms.get(bands.bad_signal.tag, Alarm())
    # What is held under one of these alarms is found again by the first look; the rest comes from outside.
    held = {
        tag: alarm.hold for tag, alarm in own.items() if alarm.hold is not None and alarm.hold.under not in own
    }
    # No calm yet: the first look must compare everything.
    return Watch(own, (), -math.inf, -math.inf, held)


def look(bands: Bands, watch: Watch, seen: Seen, now: Instant, looked_s: float | None = None) -> Looked:
    """Judge what is seen now. Returns the same watch where nothing could happen.

    Args:
        bands: the alarms as they are set.
        watch: as it was.
        seen: the judged quantities of a new reading.
        now: the moment of this look.
        looked_s: the moment of the look before; the time in between counts for a delay only where both saw the
            same. None: no look before, or too long ago to speak for the time in between.
    """
    if is_calm(watch, seen, now.mono_s):
        return watch, ()
    looked_s = now.mono_s if looked_s is None else looked_s

    def judge(settings: AlarmSettings, condition: Condition, alarm: Alarm) -> Step:
        return _judge(settings, condition, alarm, seen, now, looked_s)

    alarms, fired = _under_holds(bands, watch, judge, now, looked_s, now.mono_s)
    return settled(bands, alarms, seen, watch.held), _in_order(fired)


def wait(bands: Bands, watch: Watch, seen: Seen, now: Instant, looked_s: float | None = None) -> Looked:
    """Time passed without a new reading: only the bad signal's delays and shelves can run out by that.

    ``seen`` is what the last look saw.
    """
    if now.mono_s < watch.tick_due_s:
        return watch, ()
    looked_s = now.mono_s if looked_s is None else looked_s

    def judge(settings: AlarmSettings, condition: Condition, alarm: Alarm) -> Step:
        if condition is None:
            return _judge(settings, None, alarm, seen, now, looked_s)
        return pass_time(settings, alarm, now, looked_s)

    alarms, fired = _under_holds(bands, watch, judge, now, looked_s, looked_s)
    return settled(bands, alarms, seen, watch.held), _in_order(fired)


def hold_back(
    bands: Bands, watch: Watch, held: Mapping[str, Hold], seen: Seen, now: Instant, looked_s: float | None = None
) -> Looked:
    """From now on these alarms are held back from outside, and no others."""
    if held == watch.held:
        return watch, ()
    alarms = dict(watch.alarms)
    fired = _hold_all(bands, alarms, held, now, now.mono_s if looked_s is None else looked_s)
    if watch.tick_due_s == -math.inf:
        # Nothing has been looked at since it began, so nothing is calm yet.
        return Watch(alarms, (), -math.inf, -math.inf, held), fired
    return settled(bands, alarms, seen, held), fired


def blinded(bands: Bands, watch: Watch, looked_s: float) -> Watch:
    """Nobody looked for too long: every band's clocks stand still as of the last look."""
    alarms = dict(watch.alarms)
    for one in bands.at_readings:
        alarms[one.alarm.tag] = pause(alarms[one.alarm.tag], looked_s)
    return Watch(alarms, (), -math.inf, -math.inf, watch.held)


def tell(
    bands: Bands,
    watch: Watch,
    tag: str,
    trigger: Trigger,
    now: Instant,
    looked_s: float | None = None,
    note: Note = None,
) -> Looked:
    """A person acts on one alarm; KeyError for a tag that is not ours.

    Args:
        bands: the alarms as they are set.
        watch: as it was.
        tag: the alarm.
        trigger: what the person did.
        now: when.
        looked_s: the moment of the last look at a good DP; None while there is none.
        note: the shelf or the removal that begins by it.
    """
    at_s = now.mono_s if looked_s is None else looked_s
    settings = settings_of(bands)[tag]
    alarms = dict(watch.alarms)
    if tag == bands.bad_signal.tag:
        at_s = now.mono_s
    alarms[tag], fired = command_between(settings, alarms[tag], trigger, now, at_s, note)
    fired += _hold_all(bands, alarms, watch.held, now, at_s)
    return Watch(alarms, (), -math.inf, -math.inf, watch.held), fired


def _under_holds(
    bands: Bands, watch: Watch, judge: Judge, now: Instant, looked_s: float, then_s: float
) -> tuple[dict[str, Alarm], tuple[Transition, ...]]:
    """Judge each alarm, those first that may explain others; ``then_s`` is the last look once they are judged."""
    alarms = dict(watch.alarms)
    fired: tuple[Transition, ...] = ()
    for settings, condition in bands.causes_first:
        alarm, what = alarms[settings.tag], _hold_of(settings, watch.held, alarms)
        # A hold begins before the judging, so that nothing is announced under it, and ends after it.
        if what is not None:
            alarm, done = _hold(settings, condition, alarm, what, now, looked_s)
            fired += done
        alarm, done = judge(settings, condition, alarm)
        fired += done
        if what is None:
            alarm, done = _hold(settings, condition, alarm, None, now, then_s)
            fired += done
        alarms[settings.tag] = alarm
    return alarms, fired


def _judge(
    settings: AlarmSettings, condition: Condition, alarm: Alarm, seen: Seen, now: Instant, looked_s: float
) -> Step:
    if condition is None:
        presence = Presence.PRESENT if seen.damped is None else Presence.ABSENT
        return advance(settings, alarm, presence, now)
    if isinstance(condition, Notice):
        presence = notice_presence(settings.tag, seen.standing)
    else:
        presence = presence_of(condition, alarm.present, _judged(condition, seen))
    return confirm(settings, alarm, presence, now, looked_s)


def _judged(band: Band, seen: Seen) -> float | None:
    return (seen.damped, seen.residual, seen.average)[INDEX[band.judged]]


def _hold_all(
    bands: Bands, alarms: dict[str, Alarm], held: Mapping[str, Hold], now: Instant, looked_s: float
) -> tuple[Transition, ...]:
    """Bring every alarm's hold up to date, in place."""
    fired: tuple[Transition, ...] = ()
    for settings, condition in bands.causes_first:
        what = _hold_of(settings, held, alarms)
        alarms[settings.tag], done = _hold(settings, condition, alarms[settings.tag], what, now, looked_s)
        fired += done
    return fired


def _hold(
    settings: AlarmSettings,
    condition: Condition,
    alarm: Alarm,
    what: Hold | None,
    now: Instant,
    looked_s: float,
) -> Step:
    if what == alarm.hold:
        return alarm, ()
    # The bad signal is seen at every moment, all else only at a reading.
    if condition is None:
        return hold(settings, alarm, what, now)
    return hold_between(settings, alarm, what, now, looked_s)


def _hold_of(settings: AlarmSettings, held: Mapping[str, Hold], alarms: Mapping[str, Alarm]) -> Hold | None:
    """What holds this alarm back: the design from outside, or else the first of its causes that stands."""
    if (outer := held.get(settings.tag)) is not None:
        return outer
    for tag in settings.causes:
        if tag in alarms and explains(alarms[tag]):
            return Hold(HoldReason.CONSEQUENCE, tag)
    return None


def explains(cause: Alarm) -> bool:
    """Whether this alarm, as it is, holds back those that follow from it.

    One that is out of service vouches for nothing; one that is shelved or itself held under its cause still does.
    """
    return cause.stands and cause.state is not AlarmState.OUT_OF_SERVICE and not cause.is_out_of_context


def _in_order(fired: tuple[Transition, ...]) -> tuple[Transition, ...]:
    return tuple(sorted(fired, key=lambda transition: transition.at.mono_s))
