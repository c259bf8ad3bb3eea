"""Wording, refusals: why a command was not carried out, and the way out.

Who may do what is looked up in the rules, so that the sentence names what this person may ask for instead of
sending him to the site file.
"""

from collections.abc import Callable, Mapping

from monitor.scan.rulebook import LONGEST_REASON
from monitor.tell.notation import duration
from monitor.tell.wording_asked import Asked
from monitor.tell.wording_phrases import DOOR, one_line
from monitor.tell.wording_ways_out import WAY_OUT
from monitor.words import ABOUT_COLLECTOR, AlarmState, AnswerCode, CommandKind, Door

_KIND: Mapping[CommandKind, str] = {
    CommandKind.ACKNOWLEDGE: "acknowledge",
    CommandKind.CLEAR: "clear",
    CommandKind.SHELVE: "shelve",
    CommandKind.UNSHELVE: "unshelve",
    CommandKind.OUT_OF_SERVICE: "take out of service",
    CommandKind.RETURN_TO_SERVICE: "return to service",
    CommandKind.TEST: "test",
    CommandKind.SILENCE: "silence the horn",
    CommandKind.FILTERS_CHANGED: "begin a new set of filters",
    CommandKind.RECORD_ACTION: "record a corrective action",
    CommandKind.TEST_MESSAGE: "have a test message sent",
}


def _malformed(asked: Asked) -> str:
    return f"the command to {asked.deed} cannot be understood; send it again as the documentation shows it"


def _late(asked: Asked) -> str:
    if asked.command.sent_utc_s is None:
        return f"the command to {asked.deed} does not say when it was sent; send it anew with the time"
    limit = duration(asked.rules.late_after_s)
    return (
        f"the command to {asked.deed} came more than {limit} after it was sent, so nothing was done; "
        f"see how the alarm stands now, and send it anew"
    )


def _clocks_differ(asked: Asked) -> str:
    limit = duration(asked.rules.late_after_s)
    return (
        f"the command to {asked.deed} bears a time more than {limit} in the future, so nothing was done; "
        f"set the sender's clock or this machine's, and send it anew"
    )


def _retained(asked: Asked) -> str:
    return (
        f"the command to {asked.deed} was kept by the broker and may be old, so nothing was done; "
        f"send it anew without the retain flag"
    )


def _id_reused(asked: Asked) -> str:
    return (
        f"the command to {asked.deed} bears the id of another command ({one_line(asked.command.command_id, 60)}), "
        f"so nothing was done; send it anew under an id of its own"
    )


def _unknown_alarm(asked: Asked) -> str:
    return f"there is no alarm {asked.what} in the site file; look its name up in the list of alarms"


def _unknown_person(asked: Asked) -> str:
    # Who is known there is not told to somebody who is not.
    return (
        f"{asked.who} may not {asked.deed}: the site file does not name that person; "
        f"have the name added there, or ask somebody it names"
    )


def _not_allowed(asked: Asked) -> str:
    command, through = asked.command, DOOR[asked.command.door]
    rights = asked.rules.people.get(command.by)
    if command.door is not Door.MQTT and not command.proven:
        who, may = "without a secret nobody may", asked.rules.machine
    elif rights is None or command.door in rights.doors:
        who, may = f"{asked.who} may not", frozenset() if rights is None else rights.may
    else:
        doors = ", ".join(DOOR[door] for door in Door if door in rights.doors) or "no way"
        return f"{asked.who} may not {asked.deed} {through}; open to that person: {doors}"
    allowed = ", ".join(_KIND[kind] for kind in CommandKind if kind in may) or "nothing"
    return (
        f"{who} {asked.deed} {through}; allowed: {allowed}; "
        f"ask somebody who may, or have the right added to the site file"
    )


def _reason_missing(asked: Asked) -> str:
    length = max(len(asked.command.reason), len(asked.command.action))
    if asked.command.kind is CommandKind.RECORD_ACTION and length <= LONGEST_REASON:
        return f"{asked.cannot} without a cause and an action; say both, or that the cause is not known"
    if asked.command.reason.strip() and length > LONGEST_REASON:
        return f"{asked.cannot} with a reason of {length} characters; {LONGEST_REASON} at most, so that it is read"
    return f"{asked.cannot} without a reason; say why, so that the next shift knows"


def _end_missing(asked: Asked) -> str:
    longest = duration(asked.rules.longest_shelving_s)
    return f"{asked.cannot} without an end; say for how long, {longest} at most"


def _too_long(asked: Asked) -> str:
    for_s, longest = asked.command.for_s, duration(asked.rules.longest_shelving_s)
    asked_for = "that long" if for_s is None else f"for {duration(for_s)}"
    return f"{asked.cannot} {asked_for}: {longest} is the longest here; ask for less, or take it out of service"


def _still_active(asked: Asked) -> str:
    if asked.state in (AlarmState.UNACKNOWLEDGED, None):
        way_out = "acknowledge it, or shelve it with an end and a reason"
    else:
        way_out = "wait until it is back to normal, or shelve it with an end and a reason"
    return f"{asked.cannot} while its condition is still there: {asked.stands}; {way_out}"


def _not_in_that_state(asked: Asked) -> str:
    if asked.command.kind is CommandKind.SILENCE:
        return "the horn cannot be silenced: it makes no sound now; nothing has to be done"
    if asked.command.kind is CommandKind.TEST_MESSAGE:
        return f"{asked.cannot} now; send it again"
    if asked.command.kind in ABOUT_COLLECTOR:
        return f"{asked.cannot} now; see how its alarms stand, and send it again"
    way_out = WAY_OUT[asked.command.kind](asked.state)
    return f"{asked.cannot} now: {asked.stands}; {way_out}"


def _unknown_collector(asked: Asked) -> str:
    return f"there is no collector {asked.what} in the site file; look its name up in the list of alarms"


def _time_unfit(asked: Asked) -> str:
    return (
        f"{asked.cannot} at a time that lies in the future or more than ten years back; "
        f"give the time at which it was"
    )


def _nobody_called(asked: Asked) -> str:
    known = ", ".join(sorted(asked.rules.called))
    if not known:
        return f"{asked.cannot}: the site file names nobody to call (phone.people)"
    return f"{asked.cannot}: the site file names no such person to call; it names {known}"


def _too_many(asked: Asked) -> str:
    return f"too many commands at once: the command to {asked.deed} was not looked at; send it again in a minute"


def _not_written(asked: Asked) -> str:
    return (
        f"the command to {asked.deed} could not be written to disk; whether it holds is not certain: "
        f"see to the disk (/health says more), look how the alarm stands, and send it again"
    )


#: A sentence for each code but ``DONE``.
REFUSED: Mapping[AnswerCode, Callable[[Asked], str]] = {
    AnswerCode.MALFORMED: _malformed,
    AnswerCode.LATE: _late,
    AnswerCode.CLOCKS_DIFFER: _clocks_differ,
    AnswerCode.RETAINED: _retained,
    AnswerCode.ID_REUSED: _id_reused,
    AnswerCode.UNKNOWN_ALARM: _unknown_alarm,
    AnswerCode.UNKNOWN_PERSON: _unknown_person,
    AnswerCode.NOT_ALLOWED: _not_allowed,
    AnswerCode.REASON_MISSING: _reason_missing,
    AnswerCode.END_MISSING: _end_missing,
    AnswerCode.TOO_LONG: _too_long,
    AnswerCode.STILL_ACTIVE: _still_active,
    AnswerCode.NOT_IN_THAT_STATE: _not_in_that_state,
    AnswerCode.UNKNOWN_COLLECTOR: _unknown_collector,
    AnswerCode.TIME_UNFIT: _time_unfit,
    AnswerCode.NOBODY_CALLED: _nobody_called,
    AnswerCode.TOO_MANY: _too_many,
    AnswerCode.NOT_WRITTEN: _not_written,
}
