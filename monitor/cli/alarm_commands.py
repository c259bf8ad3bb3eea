"""Alarm commands: what a person at the shell may ask of the running daemon, alarm by alarm.

Nothing is judged here. The daemon's answer is the sentence that is printed: on standard output where it was done,
on standard error where it was refused.
"""

import getpass
import os
import sys
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click

from monitor.cli.daemon_door import DaemonDoor, door_of, end_without_daemon, quiet_door_of
from monitor.cli.period import moment
from monitor.errors import PlantError
from monitor.tell.command_fields import UnfitError, length_s
from monitor.words import Answer, Command, CommandKind, Door

#: At least one command was refused.
REFUSED = 1

_EXIT_CODES = (
    "\b\nExit codes: 0 done, 1 refused (the sentence says why), 2 wrong command\nline or site file, 3 no daemon."
)
_AGAIN = "answered before; nothing was done again"


def _login_name() -> str:
    """Who is at this terminal, under sudo too."""
    try:
        return os.getlogin()
    except OSError:  # no terminal
        pass
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        raise click.UsageError("nobody knows your name here: say it with --by NAME") from None


def _length(_context: click.Context, _parameter: click.Parameter, value: str) -> float:
    try:
        return length_s(float(value) if value.replace(".", "", 1).isdecimal() else value)
    except UnfitError as unfit:
        raise click.BadParameter(str(unfit)) from None


def _known_tags(context: click.Context, _parameter: click.Parameter, begun: str) -> list[str]:
    """What a tag may go on to be; nothing where no daemon can be asked, because a shell shows no sentences."""
    site = context.params.get("site")
    try:
        listed = [] if site is None else quiet_door_of(site).alarms("")
    except PlantError:
        return []
    return sorted(tag for one in listed if (tag := str(one.get("tag"))).startswith(begun))


site_argument = click.argument("site", type=click.Path(path_type=Path))
_tags = click.argument("tags", metavar="TAG...", nargs=-1, required=True, shell_complete=_known_tags)
by_option = click.option("--by", metavar="NAME", default=_login_name, help="Who asks. Default: your login name.")
_id = click.option(
    "--id",
    "command_id",
    metavar="ID",
    help="The command's own id. What was carried out under it is not carried out twice. Default: a random one.",
)
_reason = click.option("--reason", metavar="TEXT", required=True, help="Why; the next shift will read it.")
_for = click.option(
    "--for", "for_s", metavar="TIME", required=True, callback=_length, help="How long, such as 30min or 2h."
)

_Body = Callable[..., None]
_Option = Callable[[_Body], _Body]


def _asking(name: str, *more: _Option) -> Callable[[_Body], click.Command]:
    """A command with SITE, TAG…, --by and --id, and what else it takes."""
    options: tuple[_Option, ...] = (_id, by_option, *more, _tags, site_argument)

    def made(body: _Body) -> click.Command:
        for option in options:
            body = option(body)
        return click.command(name, epilog=_EXIT_CODES)(body)

    return made


@_asking("ack")
def ack(**given: Any) -> None:
    """Acknowledge alarms: say that somebody has seen them."""
    _ask(CommandKind.ACKNOWLEDGE, **given)


@_asking("clear")
def clear(**given: Any) -> None:
    """Clear latched alarms that are back to normal."""
    _ask(CommandKind.CLEAR, **given)


@_asking("shelve", _reason, _for)
def shelve(**given: Any) -> None:
    """Put alarms aside for a while.

    They are still measured and recorded, and come back by themselves.
    """
    _ask(CommandKind.SHELVE, **given)


@_asking("unshelve")
def unshelve(**given: Any) -> None:
    """Take shelved alarms back before their time."""
    _ask(CommandKind.UNSHELVE, **given)


@_asking("out-of-service", _reason)
def out_of_service(**given: Any) -> None:
    """Take alarms out of service, until somebody returns them."""
    _ask(CommandKind.OUT_OF_SERVICE, **given)


@_asking("return-to-service")
def return_to_service(**given: Any) -> None:
    """Return alarms to service."""
    _ask(CommandKind.RETURN_TO_SERVICE, **given)


@_asking("test-alarm")
def test_alarm(**given: Any) -> None:
    """Test alarms: see that their news reaches those it must reach."""
    _ask(CommandKind.TEST, **given)


@click.command("silence", epilog=_EXIT_CODES)
@site_argument
@by_option
@_id
def silence(**given: Any) -> None:
    """Silence the horn; no alarm is acknowledged by it."""
    _ask(CommandKind.SILENCE, tags=("",), **given)


_collectors = click.argument("collectors", metavar="COLLECTOR...", nargs=-1, required=True)
_at = click.option(
    "--at",
    "at_utc_s",
    metavar="TIME",
    callback=moment,
    help="When it was, such as 2026-03-01T06:00-05:00; now if not given.",
)


@click.command("filters-changed", epilog=_EXIT_CODES)
@site_argument
@_collectors
@_at
@click.option("--reason", metavar="TEXT", default="", help="Why, or which filters; for whoever reads it later.")
@by_option
@_id
def filters_changed(**given: Any) -> None:
    """Say that a new set of filters was put in: its trend and forecast begin anew."""
    _ask(CommandKind.FILTERS_CHANGED, **given)


@click.command("record-action", epilog=_EXIT_CODES)
@site_argument
@_collectors
@_at
@click.option(
    "--cause", "reason", metavar="TEXT", required=True, help="What was behind it, or that it is not known."
)
@click.option("--action", metavar="TEXT", required=True, help="What was done.")
@by_option
@_id
def record_action(**given: Any) -> None:
    """Record the cause of an excursion and the corrective action, for the records a permit asks for."""
    _ask(CommandKind.RECORD_ACTION, **given)


def _ask(
    kind: CommandKind,
    *,
    site: Path,
    command_id: str | None,
    tags: tuple[str, ...] = (),
    collectors: tuple[str, ...] = (),
    **given: Any,
) -> None:
    """Send one command for each tag or collector, print each answer, and end with the exit code they come to."""
    door, code = door_of(site), 0
    for one_id, name in _identified(collectors or tags, command_id or uuid.uuid4().hex):
        about: dict[str, Any] = {"collector": name} if collectors else {"tag": name}
        command = Command(command_id=one_id, kind=kind, door=Door.COMMAND_LINE, **about, **given)
        answer = _answered(door, command)
        click.echo(answer.text + (f" ({_AGAIN})" if answer.repeated else ""), err=not answer.code.is_done)
        code = code if answer.code.is_done else REFUSED
    sys.exit(code)


def _answered(door: DaemonDoor, command: Command) -> Answer:
    try:
        return door.send(command)
    except PlantError as error:
        end_without_daemon(error)


def _identified(tags: tuple[str, ...], command_id: str) -> Iterator[tuple[str, str]]:
    """Each tag with an id of its own, the same whenever the same command line is repeated."""
    if len(tags) == 1:
        yield command_id, tags[0]
        return
    for number, tag in enumerate(tags, start=1):
        yield f"{command_id}:{number}", tag
