"""Moves: what a trigger makes of an alarm, by the table, with the second step that a hold's end may bring."""

from collections.abc import Mapping

from monitor.judge.alarm import Alarm, Step, Timer, Transition
from monitor.judge.settings import AlarmSettings
from monitor.judge.table import ACTIVE, HELD, WAITING, Row, Trigger, look_up
from monitor.words import AlarmState, Hold, Instant, Removal, Shelf

#: Whoever asks for these has seen the alarm.
_SEEING = frozenset({Trigger.ACKNOWLEDGE, Trigger.SHELVE, Trigger.REMOVE})

_NEEDED: Mapping[Trigger, type] = {Trigger.SHELVE: Shelf, Trigger.REMOVE: Removal}

Note = Hold | Shelf | Removal | None


def move(settings: AlarmSettings, alarm: Alarm, trigger: Trigger, at: Instant, note: Note = None) -> Step:
    """Make the step that the table allows, if it allows one, and what follows from it at once.

    Raises:
        ValueError: shelving without a shelf, or taking out of service without a removal: neither is ever
            without its reason, its person and (the shelf) its end.
    """
    if trigger in _NEEDED and not isinstance(note, _NEEDED[trigger]):
        raise ValueError(f"{trigger.value} of {settings.tag} without its {_NEEDED[trigger].__name__.lower()}")
    alarm, fired = _step(settings, alarm, trigger, at, note)
    if not fired:
        return alarm, ()
    if trigger is Trigger.RELEASE and alarm.stands:
        alarm, again = _step(settings, alarm, Trigger.REALARM, at)
        fired += again
    alarm, followed = follow(settings, alarm, at)
    return alarm, fired + followed


def follow(settings: AlarmSettings, alarm: Alarm, at: Instant) -> Step:
    """Bring a state that has come out of a hold, or into one, in line with the condition."""
    fired: tuple[Transition, ...] = ()
    while (trigger := _owed(settings, alarm)) is not None:
        alarm, done = _step(settings, alarm, trigger, at, alarm.hold)
        fired += done
    return alarm, fired


def _owed(settings: AlarmSettings, alarm: Alarm) -> Trigger | None:
    if alarm.hold is not None and look_up(alarm.state, Trigger.SUPPRESS, latching=settings.latching):
        return Trigger.SUPPRESS
    if alarm.is_mute or alarm.stands == (alarm.state in ACTIVE):
        return None
    return Trigger.RAISE if alarm.stands else Trigger.RETURN


def _step(settings: AlarmSettings, alarm: Alarm, trigger: Trigger, at: Instant, note: Note = None) -> Step:
    row = look_up(alarm.state, trigger, latching=settings.latching, kept=alarm.kept)
    if row is None:
        return alarm, ()
    raised_utc_s = alarm.raised_utc_s
    if raised_utc_s is None and row.state in ACTIVE:
        raised_utc_s = at.utc_s
    # What is announced anew nobody has answered yet.
    seen = (alarm.seen or trigger in _SEEING) and row.state is not AlarmState.UNACKNOWLEDGED
    after = _enter(alarm, trigger, row, at, raised_utc_s, note, seen=seen)
    transition = Transition(
        tag=settings.tag,
        happened=row.happened,
        before=alarm.state,
        state=row.state,
        cause=row.cause,
        at=at,
        raised_utc_s=raised_utc_s,
        seen=seen,
        note=_note(alarm, note),
        stands=after.stands,
    )
    return after, (transition,)


def _note(alarm: Alarm, note: Note) -> Note:
    """What began or ended by this step as it was given, or else what ends by it."""
    if note is not None:
        return note
    match alarm.state:
        case AlarmState.SHELVED:
            return alarm.shelf
        case AlarmState.OUT_OF_SERVICE:
            return alarm.removal
        case _:
            return None


def _enter(
    alarm: Alarm, trigger: Trigger, row: Row, at: Instant, raised_utc_s: float | None, note: Note, *, seen: bool
) -> Alarm:
    """The alarm in its new state, with the clocks and notes that belong to that state."""
    state = row.state
    stands = trigger is Trigger.RAISE or (alarm.stands and trigger is not Trigger.RETURN)
    # An alarm that stood all through its shelf is the same alarm after it; one that was cleared is over.
    cleared = state is AlarmState.NORMAL and not (stands and alarm.state in HELD)
    over = cleared or (not stands and state in HELD and trigger is not Trigger.SUPPRESS)
    returned = alarm.returned or Timer(0.0, None if alarm.blind else at.mono_s)
    return Alarm(
        state=state,
        present=alarm.present,
        blind=alarm.blind,
        delay=None if alarm.present == stands else alarm.delay,
        returned=returned if state in WAITING else None,
        seen=seen and state is not AlarmState.NORMAL,
        raised_utc_s=None if over else raised_utc_s,
        since_utc_s=at.utc_s,
        easing=alarm.easing,
        stands=stands,
        kept=alarm.state if trigger is Trigger.SUPPRESS else AlarmState.NORMAL,
        hold=alarm.hold,
        shelf=note if isinstance(note, Shelf) and state is AlarmState.SHELVED else None,
        removal=note if isinstance(note, Removal) and state is AlarmState.OUT_OF_SERVICE else None,
    )
