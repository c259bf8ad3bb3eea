"""Tracks: where each alarm stands, followed through the events of the journal, and what each event ended.

The one place that reads an alarm's story from its events, for the figures over a period and for the live ones.
"""

from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

from monitor.judge.table import ACTIVE, HELD, UNANSWERED
from monitor.words import AlarmState, Cause, Event, EventKind, Priority


class WaitEnd(Enum):
    """How the wait for an answer ended."""

    ACKNOWLEDGED = "acknowledged"
    TIMER = "timer"
    PUT_ASIDE = "put_aside"
    OTHERWISE = "otherwise"


class Stretch(NamedTuple):
    """A time in which an alarm was active, Unix seconds.

    Attributes:
        was_raised: it began with an announcement (not with the release of what had been announced before).
        by_process: it ended because the condition went.
    """

    since_utc_s: float
    until_utc_s: float
    was_raised: bool
    by_process: bool


class Wait(NamedTuple):
    """A time in which an alarm waited for its answer, Unix seconds."""

    since_utc_s: float
    until_utc_s: float
    end: WaitEnd


class Held(NamedTuple):
    """A time in which an alarm was shelved, suppressed by design or out of service, Unix seconds."""

    state: AlarmState
    since_utc_s: float
    until_utc_s: float


class Step(NamedTuple):
    """What one event of an alarm brought; None where it ended nothing of that kind."""

    raised: bool = False
    stretch: Stretch | None = None
    wait: Wait | None = None
    held: Held | None = None
    unseen: bool = False


@dataclass(slots=True)
class Track:
    """One alarm that is not normal.

    Attributes:
        since_utc_s: of the present state.
        active_since_utc_s: None while it is not active.
        waits_since_utc_s: since when an answer is owed; None while none is. A suppression by design does not end
            the wait; a person who shelves or takes out of service does.
        by, reason, until_utc_s: of the present hold, where its event says so.
    """

    tag: str
    place: str
    state: AlarmState
    since_utc_s: float
    priority: Priority | None = None
    active_since_utc_s: float | None = None
    was_raised: bool = False
    waits_since_utc_s: float | None = None
    by: str = ""
    reason: str = ""
    until_utc_s: float | None = None


_NOTHING = Step()
_PUT_ASIDE = (AlarmState.SHELVED, AlarmState.OUT_OF_SERVICE)


class Tracks:
    """Takes every alarm event in order; bounded by the alarms that are not normal.

    Attributes:
        standing: every alarm that is not normal, by tag.
    """

    def __init__(self) -> None:
        self.standing: dict[str, Track] = {}
        self._first_utc_s: float | None = None

    def take(self, event: Event) -> Step:
        """What this event brought; events that are not of an alarm bring nothing."""
        if self._first_utc_s is None:
            self._first_utc_s = event.at_utc_s
        if event.kind is not EventKind.ALARM or event.tag is None or event.state is None:
            return _NOTHING
        track = self.standing.get(event.tag) or self._met_first(event, event.tag)
        step = _step(track, event, event.state)
        if event.state is AlarmState.NORMAL:
            self.standing.pop(event.tag, None)
        else:
            _follow(track, event, event.state)
            self.standing[event.tag] = track
        return step

    def _met_first(self, event: Event, tag: str) -> Track:
        """An alarm nobody knew to be anything but normal; what its event says of before reaches further back."""
        state = event.state_before or AlarmState.NORMAL
        # Had it changed since the first event that is kept, there would be an event of it.
        since_utc_s = self._first_utc_s if self._first_utc_s is not None else event.at_utc_s
        raised_utc_s = event.facts.get("raised_utc_s")
        known_utc_s = float(raised_utc_s) if isinstance(raised_utc_s, float | int) else since_utc_s
        return Track(
            tag,
            event.collector or event.link or "",
            state,
            since_utc_s,
            event.priority,
            active_since_utc_s=known_utc_s if state in ACTIVE else None,
            waits_since_utc_s=known_utc_s if state in UNANSWERED else None,
        )


def _step(track: Track, event: Event, state: AlarmState) -> Step:
    at_utc_s = event.at_utc_s
    stretch = held = None
    if track.active_since_utc_s is not None and state not in ACTIVE:
        by_process = event.cause is Cause.PROCESS
        stretch = Stretch(track.active_since_utc_s, at_utc_s, track.was_raised, by_process)
    if track.state in HELD and state is not track.state:
        held = Held(track.state, track.since_utc_s, at_utc_s)
    unseen = event.happened == "cleared" and event.cause is Cause.TIMER and event.seen is False
    return Step(_is_raised(event, state), stretch, _wait(track, event, state), held, unseen)


def _is_raised(event: Event, state: AlarmState) -> bool:
    return event.happened == "raised" and state not in HELD


def _wait(track: Track, event: Event, state: AlarmState) -> Wait | None:
    """The wait for an answer that this event ended."""
    since_utc_s = track.waits_since_utc_s
    if since_utc_s is None or state in UNANSWERED or state is AlarmState.SUPPRESSED_BY_DESIGN:
        return None
    end = WaitEnd.OTHERWISE
    if event.happened == "acknowledged" or (event.happened == "cleared" and event.cause is Cause.PERSON):
        end = WaitEnd.ACKNOWLEDGED
    elif event.cause is Cause.TIMER:
        end = WaitEnd.TIMER
    elif state in _PUT_ASIDE:
        end = WaitEnd.PUT_ASIDE
    return Wait(since_utc_s, event.at_utc_s, end)


def _follow(track: Track, event: Event, state: AlarmState) -> None:
    """Bring the track to where the event left its alarm, which is not normal."""
    at_utc_s = event.at_utc_s
    if state is not track.state:
        track.state, track.since_utc_s = state, at_utc_s
        track.by = track.reason = ""
        track.until_utc_s = None
    if state in HELD:
        _note_hold(track, event)
    track.priority = event.priority or track.priority
    if state not in ACTIVE:
        track.active_since_utc_s = None
    elif track.active_since_utc_s is None:
        track.active_since_utc_s, track.was_raised = at_utc_s, event.happened == "raised"
    if state in UNANSWERED:
        if track.waits_since_utc_s is None:
            track.waits_since_utc_s = at_utc_s
    elif state is not AlarmState.SUPPRESSED_BY_DESIGN:
        track.waits_since_utc_s = None


def _note_hold(track: Track, event: Event) -> None:
    track.by = event.by or track.by
    facts = event.facts
    # The reason of a reading that is not good stands beside that of a design.
    if said := facts.get("why" if track.state is AlarmState.SUPPRESSED_BY_DESIGN else "reason"):
        under = facts.get("under")
        track.reason = str(said).replace("_", " ") + (f" of {under}" if under else "")
    until_utc_s = facts.get("until_utc_s")
    if isinstance(until_utc_s, float | int):
        track.until_utc_s = float(until_utc_s)
