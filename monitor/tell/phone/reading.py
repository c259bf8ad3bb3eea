"""Reading: what an event of an alarm means for those who may be called, and the alarm as it is told."""

from enum import StrEnum

from monitor.tell.phone.message import ToldAlarm
from monitor.tell.wording import look_first, what_was_found
from monitor.words import AlarmState, Cause, Event, Priority

_WAITING = frozenset({AlarmState.RETURNED_UNACKNOWLEDGED, AlarmState.LATCHED_UNACKNOWLEDGED})
#: Likely causes that a message has room for.
_MOST_SUSPICIONS = 3


class Change(StrEnum):
    """What an event does to a callout.

    ``raised``: people are called for it. ``returned``: it is over, and somebody must still answer it. ``over``: it
    ended, and nobody has to. ``answered``: a person acknowledged it or put it aside, or the site file no longer
    has it. ``held``: the design holds it back, so that nobody is called for it. ``none``: nothing.
    """

    RAISED = "raised"
    RETURNED = "returned"
    OVER = "over"
    ANSWERED = "answered"
    HELD = "held"
    NONE = "none"


_PLAIN = {
    "acknowledged": Change.ANSWERED,
    "shelved": Change.ANSWERED,
    "taken_out_of_service": Change.ANSWERED,
    "removed": Change.ANSWERED,
    "suppressed": Change.HELD,
}


def change_of(event: Event) -> Change:
    """What the event of an alarm means."""
    match event.happened:
        case "raised":
            # Out of an acknowledged latch it comes back acknowledged: the horn is still, and so is the phone.
            return Change.NONE if event.state is AlarmState.ACKNOWLEDGED else Change.RAISED
        case "released":
            return _released(event.state)
        case "returned" | "latched":
            return Change.NONE if event.state is AlarmState.LATCHED_ACKNOWLEDGED else Change.RETURNED
        case "cleared":
            return Change.ANSWERED if event.cause in (Cause.PERSON, Cause.SITE_FILE) else Change.OVER
        case other:
            return _PLAIN.get(other, Change.NONE)


def _released(state: AlarmState | None) -> Change:
    if state is AlarmState.UNACKNOWLEDGED:
        return Change.RAISED
    return Change.RETURNED if state in _WAITING else Change.NONE


def told(event: Event) -> ToldAlarm:
    """The alarm that this event raised, as it is told."""
    return ToldAlarm(
        event_id=event.event_id,
        tag=event.tag or "",
        at_utc_s=event.at_utc_s,
        # Without a priority nobody knows how bad it is.
        priority=event.priority or Priority.HIGH,
        text=event.text,
        collector=event.collector,
        link=event.link,
        occurrence=event.occurrence or "",
        value=event.value,
        setpoint=event.setpoint,
        unit=event.unit or "",
        suspicions=event.suspicions[:_MOST_SUSPICIONS],
        what=what_was_found(event),
        check=look_first(event),
    )
