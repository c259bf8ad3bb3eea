"""Command form: the JSON in which a command comes in through MQTT and HTTP, and in which its answer goes out.

``config/commands.schema.json`` describes both. What cannot be read becomes an answer ``malformed`` whose sentence
names the key, the rule, what was found and the way out; nothing is guessed. Whether a command is allowed, in time
or fits the alarm's state is not asked here. An optional key whose value is null counts as absent.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from monitor.tell import command_fields as fields
from monitor.tell.command_fields import UnfitError
from monitor.tell.notation import rfc3339
from monitor.words import (
    ABOUT_COLLECTOR,
    ABOUT_NO_ALARM,
    AlarmState,
    Answer,
    AnswerCode,
    Command,
    CommandKind,
    Door,
)

_JSON = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False, allow_nan=False)
_KEYS = ("command_id", "command", "tag", "by", "reason", "for", "sent_at", "collector", "at", "action", "person")
_WHY_ID = "must be there, so that nothing is carried out twice"
_WHY_BY = "must say who asks"
_WHY_TAG = "must name the alarm"
_WHY_STAMP = "must say when it was sent, such as 2026-03-01T08:12:03Z"
_WHY_COLLECTOR = "must name the collector"
_WHY_ACTION = "must say what was done"
_FAULTS_TOLD = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """How a command came in, as its door knows it.

    Attributes:
        person: whose secret came with it; None where nothing proves who it is and ``by`` says it.
        must_be_stamped: ``sent_at`` must be given, because the door cannot tell when it was sent.
    """

    door: Door
    person: str | None = None
    must_be_stamped: bool = False


def read_command(data: bytes, origin: Origin, now_utc_s: float) -> Command | Answer:
    """The command that these bytes are, or the answer to its sender why they are none.

    Args:
        data: JSON in UTF-8, at most ``command_fields.MOST_BYTES``.
        origin: how it came in.
        now_utc_s: this moment, Unix seconds, for the answer.

    Returns:
        The command; or an answer ``malformed``, or ``not_allowed`` where ``by`` is not the person whose secret
        came with it.
    """
    try:
        given = fields.json_object(data)
    except UnfitError as unfit:
        return malformed(f"the command {unfit}", now_utc_s)
    sheet = _Sheet(given)
    command = _command(sheet, origin)
    if command is None:
        return malformed(_sentence(sheet.faults), now_utc_s, sheet.echo("command_id"), sheet.echo("tag"))
    said = sheet.echo("by")
    return command if said in ("", command.by) else _anothers_name(command, said, now_utc_s)


def malformed(text: str, at_utc_s: float, command_id: str = "", tag: str = "") -> Answer:
    """The answer to what is no command."""
    return Answer(command_id=command_id, code=AnswerCode.MALFORMED, text=text, at_utc_s=at_utc_s, tag=tag)


def write_command(command: Command) -> bytes:
    """The command as JSON; ``read_command`` reads it as the same but for door and proof."""
    given: dict[str, Any] = {
        "command_id": command.command_id,
        "command": command.kind.value,
        "tag": command.tag or None,
        "by": command.by,
        "reason": command.reason or None,
        "for": command.for_s,
        "collector": command.collector or None,
        "at": None if command.at_utc_s is None else rfc3339(command.at_utc_s),
        "action": command.action or None,
        "person": command.person or None,
        "sent_at": None if command.sent_utc_s is None else rfc3339(command.sent_utc_s),
    }
    return _encode({key: value for key, value in given.items() if value is not None})


def answer_payload(answer: Answer) -> dict[str, Any]:
    """The answer as JSON carries it."""
    return {
        "command_id": answer.command_id,
        "code": answer.code.value,
        "done": answer.code.is_done,
        "text": answer.text,
        "tag": answer.tag or None,
        "state": None if answer.state is None else answer.state.value,
        "repeated": answer.repeated,
        "at": rfc3339(answer.at_utc_s),
    }


def write_answer(answer: Answer) -> bytes:
    """The answer as compact JSON in UTF-8."""
    return _encode(answer_payload(answer))


def read_answer(data: bytes) -> Answer:
    """The answer that these bytes are.

    Raises:
        ValueError: they are none.
    """
    try:
        given = json.loads(data)
        return Answer(
            command_id=str(given["command_id"]),
            code=AnswerCode(given["code"]),
            text=str(given["text"]),
            at_utc_s=fields.moment_utc_s(given["at"]),
            tag=str(given["tag"] or ""),
            state=None if given["state"] is None else AlarmState(given["state"]),
            repeated=bool(given["repeated"]),
        )
    except (KeyError, TypeError, RecursionError) as error:
        raise ValueError("this is no answer to a command") from error


@dataclass(slots=True)
class _Sheet:
    """The keys of one command as they are read, and what was wrong with them."""

    given: Mapping[str, Any]
    faults: list[str] = field(default_factory=list)

    def read(self, key: str, how: Callable[[Any], Any], needed: str = "") -> Any:
        """One value; None where it is wrong, or absent (``needed`` is the rule that this breaks, if any)."""
        value = self.given.get(key)
        if value is None:
            if needed:
                self.faults.append(f'"{key}" {needed} (found nothing)')
            return None
        try:
            return how(value)
        except UnfitError as unfit:
            self.faults.append(f'"{key}" {unfit} (found {fields.shown(value)})')
            return None

    def refuse(self, key: str, why: str) -> None:
        """Note a key that must not be there."""
        if self.given.get(key) is not None:
            self.faults.append(f'"{key}" must not be there: {why}')

    def echo(self, key: str) -> str:
        """What the sender wrote, where that is fit to be repeated; else empty."""
        try:
            how = fields.identifier if key == "command_id" else fields.name
            return how(self.given.get(key))
        except UnfitError:
            return ""


def _command(sheet: _Sheet, origin: Origin) -> Command | None:
    kind = sheet.read("command", fields.kind, f"must be {fields.KINDS}")
    has_tag = kind is not None and kind not in ABOUT_NO_ALARM and kind not in ABOUT_COLLECTOR
    command_id = sheet.read("command_id", fields.identifier, _WHY_ID)
    by = sheet.read("by", fields.name, "" if origin.person else _WHY_BY)
    tag = sheet.read("tag", fields.name, _WHY_TAG if has_tag else "")
    reason = sheet.read("reason", fields.reason)
    for_s = sheet.read("for", fields.length_s)
    sent_utc_s = sheet.read("sent_at", fields.moment_utc_s, _WHY_STAMP if origin.must_be_stamped else "")
    collector = sheet.read("collector", fields.name, _WHY_COLLECTOR if kind in ABOUT_COLLECTOR else "")
    at_utc_s = sheet.read("at", fields.moment_utc_s)
    action = sheet.read("action", fields.reason, _WHY_ACTION if kind is CommandKind.RECORD_ACTION else "")
    person = sheet.read("person", fields.name)
    _misplaced(sheet, kind)
    if sheet.faults or kind is None:
        return None
    return Command(
        command_id=command_id,
        kind=kind,
        by=origin.person or by,
        door=origin.door,
        tag=tag or "",
        proven=origin.person is not None,
        sent_utc_s=sent_utc_s,
        reason=reason or "",
        for_s=for_s,
        collector=collector or "",
        at_utc_s=at_utc_s,
        action=action or "",
        person=person or "",
    )


def _misplaced(sheet: _Sheet, kind: CommandKind | None) -> None:
    """Note the keys that are none of ours, or that this command has no use for."""
    for key in sheet.given:
        if key not in _KEYS:
            sheet.faults.append(f"{fields.shown(key)} is no key of a command; those are {', '.join(_KEYS)}")
    if kind is not None and kind in ABOUT_NO_ALARM:
        sheet.refuse("tag", "this is not about one alarm")
    if kind in ABOUT_COLLECTOR:
        sheet.refuse("tag", "this is about a collector, not about one alarm")
    elif kind is not None:
        for key in ("collector", "at"):
            sheet.refuse(key, "this is about an alarm, which its tag names")
    if kind is not None and kind is not CommandKind.RECORD_ACTION:
        sheet.refuse("action", "only a record has one")
    if kind is not None and kind is not CommandKind.TEST_MESSAGE:
        sheet.refuse("person", "only a test message goes to somebody")
    if kind is not None and kind is not CommandKind.SHELVE:
        sheet.refuse("for", "only shelving has an end")


def _sentence(faults: list[str]) -> str:
    told, rest = faults[:_FAULTS_TOLD], len(faults) - _FAULTS_TOLD
    more = f"; and {rest} more" if rest > 0 else ""
    return f"the command cannot be read: {'; '.join(told)}{more}; correct it and send it again"


def _anothers_name(command: Command, said: str, at_utc_s: float) -> Answer:
    return Answer(
        command_id=command.command_id,
        code=AnswerCode.NOT_ALLOWED,
        text=f'the token is that of {command.by}, and "by" says {said}: leave "by" out, or use your own token',
        at_utc_s=at_utc_s,
        tag=command.tag,
    )


def _encode(payload: Mapping[str, Any]) -> bytes:
    return _JSON.encode(payload).encode("utf-8", "replace")
