"""Wording, standing: how one alarm stands now, in words: its state, and who or what holds it back until when."""

from monitor.judge.alarm import Alarm
from monitor.tell.notation import moment
from monitor.tell.wording_phrases import STATE, held_back, one_line
from monitor.words import AlarmState, Removal, Shelf


def standing_in_words(alarm: Alarm) -> str:
    """How the alarm stands, as half a sentence; of a held one also whether its condition is there."""
    match alarm.state:
        case AlarmState.SHELVED if alarm.shelf is not None:
            return _shelved(alarm.shelf) + _condition(alarm)
        case AlarmState.OUT_OF_SERVICE if alarm.removal is not None:
            return _removed(alarm.removal) + _condition(alarm)
        case AlarmState.SUPPRESSED_BY_DESIGN:
            held = "" if alarm.hold is None else f": held back {held_back(alarm.hold.why, alarm.hold.under)}"
            return STATE[alarm.state] + held + _condition(alarm)
    return STATE[alarm.state]


def _shelved(shelf: Shelf) -> str:
    return f"shelved by {one_line(shelf.by, 60)} until {moment(shelf.until_utc_s)}: {one_line(shelf.reason)}"


def _removed(removal: Removal) -> str:
    since = moment(removal.since_utc_s)
    return f"out of service by {one_line(removal.by, 60)} since {since}: {one_line(removal.reason)}"


def _condition(alarm: Alarm) -> str:
    return "; its condition is there" if alarm.stands else ""
