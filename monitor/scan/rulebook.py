"""Rulebook: whether a command is carried out, and why not. One for every door.

Asked in this order: is it new, is it on time, may this person do it through this door, does it name an alarm,
is it complete, and does the alarm's state allow it.
"""

import math
from collections.abc import Mapping

from monitor.judge.alarm import Alarm
from monitor.judge.settings import AlarmSettings
from monitor.judge.table import ACTIVE, Trigger, look_up
from monitor.scan.settings import CommandRules
from monitor.scan.state import Desk
from monitor.words import AnswerCode, Command, CommandKind, Door, Instant

#: What each command does to an alarm; a test and a silencing do nothing to any.
TRIGGERS: Mapping[CommandKind, Trigger] = {
    CommandKind.ACKNOWLEDGE: Trigger.ACKNOWLEDGE,
    CommandKind.CLEAR: Trigger.CLEAR,
    CommandKind.SHELVE: Trigger.SHELVE,
    CommandKind.UNSHELVE: Trigger.UNSHELVE,
    CommandKind.OUT_OF_SERVICE: Trigger.REMOVE,
    CommandKind.RETURN_TO_SERVICE: Trigger.RESTORE,
}

#: Longer texts are for a logbook (characters).
LONGEST_REASON = 200


def refuse(
    rules: CommandRules, desk: Desk, command: Command, found: tuple[AlarmSettings, Alarm] | None, now: Instant
) -> AnswerCode | None:
    """Why the command must not be carried out, or None where it may.

    Args:
        rules: who may do what.
        desk: the commands answered so far.
        command: what is asked.
        found: the alarm it names, with its settings; None where there is no such alarm.
        now: this moment; only the command's own stamp is compared with its wall clock.
    """
    code = _not_in_time(rules, command, now.utc_s) or _not_this_person(rules, command)
    if code is not None:
        return code
    if command.command_id in desk.answered:
        return AnswerCode.ID_REUSED
    if command.kind is CommandKind.SILENCE:
        return None
    if found is None:
        return AnswerCode.UNKNOWN_ALARM
    return _incomplete(rules, command) or _not_in_state(command.kind, *found)


def is_repeat(desk: Desk, command: Command) -> bool:
    """Whether this very command has been answered before."""
    before = desk.answered.get(command.command_id)
    return before is not None and (before.kind, before.tag, before.by) == (command.kind, command.tag, command.by)


def _not_in_time(rules: CommandRules, command: Command, utc_s: float) -> AnswerCode | None:
    if command.sent_utc_s is None:
        # Only a door on which nothing can wait may leave it out.
        return AnswerCode.LATE if command.door is Door.MQTT else None
    age_s = utc_s - command.sent_utc_s
    if not math.isfinite(age_s) or age_s > rules.late_after_s:
        return AnswerCode.LATE
    return AnswerCode.CLOCKS_DIFFER if age_s < -rules.late_after_s else None


def _not_this_person(rules: CommandRules, command: Command) -> AnswerCode | None:
    if command.door is not Door.MQTT and not command.proven:
        return None if command.kind in rules.machine else AnswerCode.NOT_ALLOWED
    person = rules.people.get(command.by)
    if person is None:
        return AnswerCode.UNKNOWN_PERSON
    allowed = command.door in person.doors and command.kind in person.may
    return None if allowed else AnswerCode.NOT_ALLOWED


def _incomplete(rules: CommandRules, command: Command) -> AnswerCode | None:
    if command.kind not in (CommandKind.SHELVE, CommandKind.OUT_OF_SERVICE):
        return None
    if not command.reason.strip() or len(command.reason) > LONGEST_REASON:
        return AnswerCode.REASON_MISSING
    if command.kind is CommandKind.OUT_OF_SERVICE:
        return None
    if command.for_s is None or not command.for_s > 0.0:
        return AnswerCode.END_MISSING
    return AnswerCode.TOO_LONG if command.for_s > rules.longest_shelving_s else None


def _not_in_state(kind: CommandKind, settings: AlarmSettings, alarm: Alarm) -> AnswerCode | None:
    trigger = TRIGGERS.get(kind)
    if trigger is None or look_up(alarm.state, trigger, latching=settings.latching, kept=alarm.kept):
        return None
    if kind is CommandKind.CLEAR and alarm.state in ACTIVE:
        return AnswerCode.STILL_ACTIVE
    return AnswerCode.NOT_IN_THAT_STATE
