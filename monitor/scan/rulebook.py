"""Rulebook: whether a command is carried out, and why not. One for every door.

Asked in this order: is it new, is it on time, may this person do it through this door, does it name an alarm,
is it complete, and does the alarm's state allow it.
"""

import math
from collections.abc import Collection, Mapping

from monitor.judge.alarm import Alarm
from monitor.judge.settings import AlarmSettings
from monitor.judge.table import ACTIVE, UNANSWERED, Trigger, look_up
from monitor.scan.settings import CommandRules
from monitor.scan.state import Desk
from monitor.words import (
    ABOUT_COLLECTOR,
    ABOUT_NO_ALARM,
    AlarmState,
    AnswerCode,
    Command,
    CommandKind,
    Door,
    Instant,
)

#: What each command does to an alarm; a test and a silencing do nothing to any.
TRIGGERS: Mapping[CommandKind, Trigger] = {
    CommandKind.ACKNOWLEDGE: Trigger.ACKNOWLEDGE,
    CommandKind.CLEAR: Trigger.CLEAR,
    CommandKind.SHELVE: Trigger.SHELVE,
    CommandKind.UNSHELVE: Trigger.UNSHELVE,
    CommandKind.OUT_OF_SERVICE: Trigger.REMOVE,
    CommandKind.RETURN_TO_SERVICE: Trigger.RESTORE,
}

#: Less is no time to do anything in.
SHORTEST_SHELF_S = 1.0

#: What is told of afterwards lies no further back than records are kept (ten years, our choice), nor ahead of more
#: than two clocks may differ, seconds.
LONGEST_AGO_S, AHEAD_S = 3660 * 86400.0, 120.0

_LATCHED = frozenset({AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED})

#: Longer texts are for a logbook (characters).
LONGEST_REASON = 200


def refuse(
    rules: CommandRules,
    desk: Desk,
    command: Command,
    found: tuple[AlarmSettings, Alarm] | None,
    now: Instant,
    collectors: Collection[str] = (),
) -> AnswerCode | None:
    """Why the command must not be carried out, or None where it may.

    Args:
        rules: who may do what.
        desk: the commands answered so far.
        command: what is asked.
        found: the alarm it names, with its settings; None where there is no such alarm.
        now: this moment; only the command's own stamps are compared with its wall clock.
        collectors: the names of those that there are.
    """
    code = _not_in_time(rules, command, now.utc_s) or _not_this_person(rules, command)
    if code is not None:
        return code
    if command.command_id in desk.answered:
        return AnswerCode.ID_REUSED
    if command.kind in ABOUT_NO_ALARM:
        return _calls_nobody(rules, command)
    if command.kind in ABOUT_COLLECTOR:
        return _unfit_for_collector(command, collectors, now.utc_s)
    if found is None:
        return AnswerCode.UNKNOWN_ALARM
    _, alarm = found
    return (
        _incomplete(rules, command) or _not_in_state(command.kind, *found) or _answers_too(rules, command, alarm)
    )


def is_repeat(desk: Desk, command: Command) -> bool:
    """Whether this very command has been answered before."""
    before = desk.answered.get(command.command_id)
    if before is None:
        return False
    asked = (command.kind, command.tag, command.by, command.reason, command.for_s)
    about = (command.collector, command.at_utc_s, command.action, command.person)
    return (before.kind, before.tag, before.by, before.reason, before.for_s) == asked and (
        before.collector,
        before.about_utc_s,
        before.action,
        before.person,
    ) == about


def _not_in_time(rules: CommandRules, command: Command, utc_s: float) -> AnswerCode | None:
    if command.sent_utc_s is None:
        # Only a door on which nothing can wait may leave it out.
        return AnswerCode.LATE if command.door is Door.MQTT else None
    age_s = utc_s - command.sent_utc_s
    if not math.isfinite(age_s) or age_s > rules.late_after_s:
        return AnswerCode.LATE
    return AnswerCode.CLOCKS_DIFFER if age_s < -rules.late_after_s else None


def _not_this_person(rules: CommandRules, command: Command) -> AnswerCode | None:
    if _may(rules, command, command.kind):
        return None
    knows_people = command.proven or command.door is Door.MQTT
    return AnswerCode.UNKNOWN_PERSON if knows_people and command.by not in rules.people else AnswerCode.NOT_ALLOWED


def _may(rules: CommandRules, command: Command, kind: CommandKind) -> bool:
    """Whether whoever sent this command may ask for that through the same door."""
    on_machine = command.door is not Door.MQTT and not command.proven
    if on_machine and kind in rules.machine:
        return True
    if on_machine and command.door is not Door.COMMAND_LINE:
        # Whoever is at the shell got there by the machine's own rights; over HTTP anybody may claim a name.
        return False
    person = rules.people.get(command.by)
    return person is not None and command.door in person.doors and kind in person.may


def _answers_too(rules: CommandRules, command: Command, alarm: Alarm) -> AnswerCode | None:
    """Putting an alarm aside answers it and ends its latch: who may not do that may not shelve it either."""
    if command.kind not in (CommandKind.SHELVE, CommandKind.OUT_OF_SERVICE):
        return None
    state = alarm.kept if alarm.state is AlarmState.SUPPRESSED_BY_DESIGN else alarm.state
    needed = [CommandKind.ACKNOWLEDGE] if state in UNANSWERED else []
    needed += [CommandKind.CLEAR] if state in _LATCHED else []
    return None if all(_may(rules, command, kind) for kind in needed) else AnswerCode.NOT_ALLOWED


def _incomplete(rules: CommandRules, command: Command) -> AnswerCode | None:
    if command.kind not in (CommandKind.SHELVE, CommandKind.OUT_OF_SERVICE):
        return None
    if not command.reason.strip() or len(command.reason) > LONGEST_REASON:
        return AnswerCode.REASON_MISSING
    if command.kind is CommandKind.OUT_OF_SERVICE:
        return None
    if command.for_s is None or not command.for_s >= SHORTEST_SHELF_S:
        return AnswerCode.END_MISSING
    return AnswerCode.TOO_LONG if command.for_s > rules.longest_shelving_s else None


def _calls_nobody(rules: CommandRules, command: Command) -> AnswerCode | None:
    if command.kind is CommandKind.SILENCE:
        return None
    is_known = command.person in rules.called if command.person else bool(rules.called)
    return None if is_known else AnswerCode.NOBODY_CALLED


def _unfit_for_collector(command: Command, collectors: Collection[str], utc_s: float) -> AnswerCode | None:
    if command.collector not in collectors:
        return AnswerCode.UNKNOWN_COLLECTOR
    if command.at_utc_s is not None and not utc_s - LONGEST_AGO_S <= command.at_utc_s <= utc_s + AHEAD_S:
        return AnswerCode.TIME_UNFIT
    if command.kind is CommandKind.RECORD_ACTION and not (command.reason.strip() and command.action.strip()):
        return AnswerCode.REASON_MISSING
    return AnswerCode.REASON_MISSING if max(len(command.reason), len(command.action)) > LONGEST_REASON else None


def _not_in_state(kind: CommandKind, settings: AlarmSettings, alarm: Alarm) -> AnswerCode | None:
    trigger = TRIGGERS.get(kind)
    if trigger is None or look_up(alarm.state, trigger, latching=settings.latching, kept=alarm.kept):
        return None
    if kind is CommandKind.CLEAR and alarm.state in ACTIVE:
        return AnswerCode.STILL_ACTIVE
    return AnswerCode.NOT_IN_THAT_STATE
