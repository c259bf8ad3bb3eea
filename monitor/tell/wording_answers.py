"""Wording, answers: the one sentence a person gets for a command: what was done, or why not and the way out."""

from collections.abc import Callable, Mapping

from monitor.judge.table import ACTIVE
from monitor.scan.settings import CommandRules
from monitor.tell.notation import duration, moment
from monitor.tell.wording_asked import Asked, object_of
from monitor.tell.wording_phrases import ASKED, DOOR, fact_number, one_line, person
from monitor.tell.wording_refusals import REFUSED
from monitor.words import AlarmState, AnswerCode, Command, CommandKind, Door, Event


def answer_sentence(command: Command, code: AnswerCode, state: AlarmState | None, rules: CommandRules) -> str:
    """What a person is told about a command, as one sentence without a full stop.

    Args:
        command: what was asked.
        code: what became of it.
        state: of the alarm now, after the command; None where there is no such alarm.
        rules: who may do what, and within which bounds.
    """
    asked = Asked(command, state, rules)
    if code.is_done:
        return _DONE[command.kind](asked)
    return REFUSED[code](asked)


def refusal(event: Event) -> str:
    """A refused command as it stands in the journal.

    Facts that are understood: ``command``, ``code``, ``door``, ``refused_meanwhile``.
    """
    kind, code, door = (event.facts.get(name) for name in ("command", "code", "door"))
    deed = "do something"
    if isinstance(kind, str) and kind in set(CommandKind):
        about = event.tag or event.collector or ""
        deed = ASKED[CommandKind(kind)][0].format(object_of(CommandKind(kind), about))
    why = _SHORTLY.get(AnswerCode(code), "") if isinstance(code, str) and code in set(AnswerCode) else ""
    through = f" {DOOR[Door(door)]}" if isinstance(door, str) and door in set(Door) else ""
    others = fact_number(event, "refused_meanwhile")
    more = f"; {others:g} more refused since the last was told" if others else ""
    return f"command refused: {person(event)} asked{through} to {deed}" + (f", but {why}" if why else "") + more


def _acknowledged(asked: Asked) -> str:
    return f"{asked.what} acknowledged by {asked.who}; {asked.stands}"


def _cleared(asked: Asked) -> str:
    if asked.state is AlarmState.RETURNED_UNACKNOWLEDGED:
        return f"latch of {asked.what} undone by {asked.who}; {asked.stands}: acknowledge it to end it"
    return f"{asked.what} cleared by {asked.who}; {asked.stands}"


def _shelved(asked: Asked) -> str:
    for_s = asked.command.for_s
    how_long = "" if for_s is None else f" for {duration(for_s)}"
    return (
        f"{asked.what} shelved by {asked.who}{how_long}{asked.because}; "
        f"it is announced again at the end if its condition is still there"
    )


def _unshelved(asked: Asked) -> str:
    return f"{asked.what} unshelved by {asked.who}; {_after_hold(asked)}"


def _taken_out(asked: Asked) -> str:
    return (
        f"{asked.what} taken out of service by {asked.who}{asked.because}; "
        f"it warns nobody until a person returns it to service"
    )


def _returned(asked: Asked) -> str:
    return f"{asked.what} returned to service by {asked.who}; {_after_hold(asked)}"


def _after_hold(asked: Asked) -> str:
    if asked.state in ACTIVE:
        return f"its condition is still there: {asked.stands}"
    return asked.stands


def _tested(asked: Asked) -> str:
    return f"test of {asked.what} sent out for {asked.who}; the alarm itself is as it was: {asked.stands}"


def _silenced(asked: Asked) -> str:
    return f"horn silenced by {asked.who}; every alarm stays as it is, and a new one sounds again"


def _filters_changed(asked: Asked) -> str:
    at_utc_s = asked.command.at_utc_s
    since = "now" if at_utc_s is None else moment(at_utc_s)
    return f"{asked.what}: new set of filters since {since}, told by {asked.who}; its trend begins anew"


def _recorded(asked: Asked) -> str:
    return (
        f"{asked.what}: recorded by {asked.who}: cause {one_line(asked.command.reason)}; "
        f"done: {one_line(asked.command.action)}"
    )


def _test_message(asked: Asked) -> str:
    return (
        f"test message to {asked.what} is on its way, through every channel; the journal says what became of each"
    )


_DONE: Mapping[CommandKind, Callable[[Asked], str]] = {
    CommandKind.ACKNOWLEDGE: _acknowledged,
    CommandKind.CLEAR: _cleared,
    CommandKind.SHELVE: _shelved,
    CommandKind.UNSHELVE: _unshelved,
    CommandKind.OUT_OF_SERVICE: _taken_out,
    CommandKind.RETURN_TO_SERVICE: _returned,
    CommandKind.TEST: _tested,
    CommandKind.SILENCE: _silenced,
    CommandKind.FILTERS_CHANGED: _filters_changed,
    CommandKind.RECORD_ACTION: _recorded,
    CommandKind.TEST_MESSAGE: _test_message,
}

_SHORTLY: Mapping[AnswerCode, str] = {
    AnswerCode.MALFORMED: "the command could not be understood",
    AnswerCode.LATE: "it came too late",
    AnswerCode.CLOCKS_DIFFER: "the clocks of the sender and of this machine differ",
    AnswerCode.RETAINED: "the broker had kept it, and it may be old",
    AnswerCode.ID_REUSED: "its id belongs to another command",
    AnswerCode.UNKNOWN_ALARM: "there is no such alarm",
    AnswerCode.UNKNOWN_PERSON: "the site file does not name this person",
    AnswerCode.NOT_ALLOWED: "this person may not do that",
    AnswerCode.REASON_MISSING: "without a reason, or with one too long",
    AnswerCode.END_MISSING: "without saying for how long",
    AnswerCode.TOO_LONG: "the time asked for is too long",
    AnswerCode.STILL_ACTIVE: "its condition is still there",
    AnswerCode.NOT_IN_THAT_STATE: "the alarm's state does not allow it",
    AnswerCode.UNKNOWN_COLLECTOR: "there is no such collector",
    AnswerCode.NOBODY_CALLED: "there is nobody of that name to call",
    AnswerCode.TIME_UNFIT: "the time it is about lies in the future, or too far back",
    AnswerCode.TOO_MANY: "too many commands came at once",
    AnswerCode.NOT_WRITTEN: "the disk did not take it",
}
