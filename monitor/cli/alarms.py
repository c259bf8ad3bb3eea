"""``cakewatch alarms``: what is active, what waits for a person, what is held back (by whom, why, until when)."""

import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

import click

from monitor.cli.daemon_door import door_of, end_without_daemon
from monitor.errors import PlantError
from monitor.judge.table import HELD
from monitor.tell.command_fields import UnfitError, moment_utc_s
from monitor.tell.notation import figure, moment
from monitor.tell.wording_phone import is_phone
from monitor.words import AlarmState, Priority

Shown = Mapping[str, Any]

_LOUD = frozenset({Priority.URGENT.value, Priority.HIGH.value})
_NOTHING = "no alarm is active, latched or held back"


@click.command()
@click.argument("site", type=click.Path(path_type=Path))
@click.option("--all", "show_all", is_flag=True, help="The normal ones too.")
@click.option("--held", is_flag=True, help="Only the shelved, the suppressed and those out of service.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON: a list with everything known of each alarm.")
def alarms(site: Path, show_all: bool, held: bool, as_json: bool) -> None:
    """Show the alarms of the running daemon: active, latched, and every one that is held back.

    \b
    Exit codes: 0 shown, 2 wrong command line or site file, 3 no daemon.
    """  # noqa: D301  click wants the \b as it stands
    if show_all and held:
        raise click.UsageError("--all and --held ask for different things: leave one out")
    try:
        listed = door_of(site).alarms(_query(show_all=show_all, held=held))
    except PlantError as error:
        end_without_daemon(error)
    if as_json:
        click.echo(json.dumps(listed, indent=2, ensure_ascii=False))
        return
    for line in _page(listed, "no alarm is held back" if held else _NOTHING):
        click.echo(line)


def _query(*, show_all: bool, held: bool) -> str:
    if held:
        return "held=yes"
    states = [state for state in AlarmState if show_all or state is not AlarmState.NORMAL]
    return "&".join(f"state={state.value}" for state in states)


def _page(listed: Iterable[Shown], nothing: str) -> Iterator[str]:
    groups: dict[str, list[Shown]] = {"active": [], "waiting for a person": [], "held back": [], "normal": []}
    for one in listed:
        groups[_group(one)].append(one)
    filled = {heading: those for heading, those in groups.items() if those}
    if not filled:
        yield nothing
    for heading, those in filled.items():
        yield click.style(f"{heading} ({len(those)})", bold=True)
        yield from _lines(those)


def _group(one: Shown) -> str:
    if one["state"] in HELD:
        return "held back"
    if one["state"] == AlarmState.NORMAL.value:
        return "normal"
    return "active" if one.get("active") else "waiting for a person"


def _lines(those: list[Shown]) -> Iterator[str]:
    """One line each, in columns, most urgent first as they came."""
    rows = [(_of(one, "priority"), _of(one, "tag"), _whose(one), _measured(one)) for one in those]
    widths = [max(len(row[column]) for row in rows) for column in range(4)]
    for row, one in zip(rows, those, strict=True):
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=True)]
        if row[0] in _LOUD and one.get("active"):
            cells[0] = click.style(cells[0], fg="red", bold=True)
        yield f"  {'  '.join(cells)}  {_standing(one)}"
        if behind := _of(one, "behind"):
            yield f"  {' ' * widths[0]}  {behind}"


def _of(one: Shown, key: str) -> str:
    """A text of the daemon's, as one line that moves no cursor."""
    return "".join(sign if sign.isprintable() else "?" for sign in str(one.get(key) or ""))


def _whose(one: Shown) -> str:
    link = _of(one, "link")
    return _of(one, "collector") or (link if is_phone(link) else f"link {link}")


def _measured(one: Shown) -> str:
    """The value beside its set point, such as ``7.31 inH2O (above 7)``."""
    setpoint, value = one.get("setpoint"), one.get("value")
    if not isinstance(setpoint, int | float):
        return ""
    shown = f"{figure(value)} {_of(one, 'unit')}" if isinstance(value, int | float) else "no value"
    return f"{shown} ({_of(one, 'side')} {figure(setpoint)})"


def _standing(one: Shown) -> str:
    words = _of(one, "text") or _of(one, "state").replace("_", " ")
    if one["state"] in HELD or one["state"] == AlarmState.NORMAL.value:
        return words
    try:
        return f"{words} since {moment(moment_utc_s(one.get('since')))}"
    except UnfitError:
        return words
