"""Test message: has the daemon call people for a test, and shows what became of each channel."""

import json
import sys
import time
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from monitor.cli.alarm_commands import REFUSED, by_option, site_argument
from monitor.cli.daemon_door import DaemonDoor, door_of, end_without_daemon
from monitor.cli.site_file import load_or_exit
from monitor.errors import PlantError
from monitor.tell.phone.settings import PhoneSettings
from monitor.words import Command, CommandKind, Door

#: Some channel did not take it.
NOT_TOLD = 1
#: Beyond the channels' own limits, seconds.
_PATIENCE_S = 10.0
_PAUSE_S = 0.5


@click.command(
    "test-message", epilog="Exit codes: 0 every channel took it, 1 some did not or it was refused, 3 no daemon."
)
@site_argument
@click.option("--person", metavar="NAME", default="", help="Who is called; everybody if not given.")
@by_option
def test_message(site: Path, person: str, by: str) -> None:
    """Send a test message through every channel of a person, or of everybody, and say what became of it."""
    door = door_of(site)
    phone = load_or_exit(site, with_secrets=False).phone
    try:
        before = _newest(door)
        command = Command(
            command_id=uuid.uuid4().hex,
            kind=CommandKind.TEST_MESSAGE,
            by=by,
            door=Door.COMMAND_LINE,
            person=person,
        )
        answer = door.send(command)
        click.echo(answer.text, err=not answer.code.is_done)
        if not answer.code.is_done or phone is None:
            sys.exit(REFUSED)
        sys.exit(_follow(door, before, _expected(phone, person)))
    except PlantError as error:
        end_without_daemon(error)


def _expected(phone: PhoneSettings, person: str) -> dict[tuple[str, str], float]:
    """Each channel that is tried, and how long that may take."""
    return {
        (name, channel.name): channel.limit_s
        for name, one in phone.people.items()
        if person in ("", name)
        for channel in one.channels
    }


def _follow(door: DaemonDoor, before: int, expected: dict[tuple[str, str], float]) -> int:
    """Show each outcome as it comes; the exit code they come to."""
    code, ends_s = 0, time.monotonic() + max(expected.values(), default=0.0) + _PATIENCE_S
    while expected and time.monotonic() < ends_s:
        time.sleep(_PAUSE_S)
        for outcome in _outcomes(door, before):
            before = max(before, outcome["seq"])
            if expected.pop((outcome["person"], outcome["channel"]), None) is None:
                continue
            click.echo(outcome["text"])
            code = code if outcome["happened"] == "notified" else NOT_TOLD
    for name, channel in expected:
        click.echo(f"phone: {name} by {channel}: no outcome yet; see the log and GET /api/v1/events", err=True)
    return NOT_TOLD if expected else code


def _outcomes(door: DaemonDoor, after: int) -> Iterator[dict[str, Any]]:
    """What became of test messages since then, the oldest first."""
    for event in reversed(_events(door)):
        phone = event.get("phone") or {}
        if (
            event["seq"] > after
            and phone.get("message") == "test"
            and event["happened"] in ("notified", "not_notified")
        ):
            yield event | {"person": phone.get("person", ""), "channel": phone.get("channel", "")}


def _newest(door: DaemonDoor) -> int:
    return max((event["seq"] for event in _events(door)), default=0)


def _events(door: DaemonDoor) -> list[dict[str, Any]]:
    try:
        found = json.loads(door.get("/api/v1/events?limit=200"))["events"]
    except (ValueError, KeyError, TypeError):
        raise PlantError("the daemon does not speak as this cakewatch does: is it of another version?") from None
    return [event for event in found if isinstance(event, dict)]
