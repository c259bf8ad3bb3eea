"""Recordings: what the command line says of the recorded data to use, for the commands that use some."""

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

import click
from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from monitor.acquire.traces.headings import KnownPoints, Mapped, parse_map
from monitor.acquire.traces.moments import one_moment
from monitor.acquire.traces.opening import open_trace
from monitor.acquire.traces.trace import Trace, TraceError
from monitor.rehearse.history import history_trace
from monitor.rehearse.whole import Site, Wish
from monitor.remember.history_reading import HistoryReader
from monitor.words import PointId

#: A recording (or the history) cannot be used.
CANNOT_READ = 3


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command line asks for.

    Attributes:
        zone: of times that do not say theirs.
        mapped: columns that are named by hand.
    """

    traces: tuple[Path, ...]
    history: bool
    zone: tzinfo | None
    mapped: tuple[Mapped, ...]


def zone(_context: click.Context, _parameter: click.Parameter, value: str | None) -> tzinfo | None:
    """A zone by its name, or by its distance from UTC."""
    if value is None:
        return None
    try:
        return datetime.fromisoformat(f"2000-01-01T00:00{value}").tzinfo or ZoneInfo(value)
    except ValueError:
        pass
    try:
        return ZoneInfo(value)
    except (KeyError, ValueError, OSError):
        raise click.BadParameter(f"must be UTC, +01:00 or a name such as Europe/Berlin, not {value!r}") from None


def mapped(_context: click.Context, _parameter: click.Parameter, values: tuple[str, ...]) -> tuple[Mapped, ...]:
    """Columns named by hand."""
    try:
        return tuple(parse_map(value) for value in values)
    except ValueError as error:
        raise click.BadParameter(str(error)) from None


def moment(text: str | None, zone: tzinfo | None, unsaid: float) -> float:
    """A moment of the command line, Unix seconds; ``unsaid`` where it says none."""
    try:
        return unsaid if text is None else one_moment(text, zone or UTC)
    except ValueError as error:
        raise click.UsageError(f"--since and --until: {error}.") from None


def open_all(site: Site, asked: Asked, known: KnownPoints, stack: ExitStack, wish: Wish) -> list[Trace]:
    """Every recording that was asked for, open until the stack is left.

    Raises:
        TraceError: one of them is wrong, or a column named by hand is in none.
    """
    opened = [open_trace(path, known, asked.zone) for path in asked.traces]
    if asked.history:
        opened.append(_history(site, stack, wish))
    _refuse_unused_maps(asked.mapped, opened)
    return opened


def _history(site: Site, stack: ExitStack, wish: Wish) -> Trace:
    store = site.plan.store
    reader = stack.enter_context(HistoryReader(store.folder))
    points = [PointId(name, role) for name, plan in site.plan.collectors.items() for role in plan.points]
    # A step is taken at its end, so the one that ends in the asked time began before it.
    since_s, until_s = wish.since_utc_s - store.history_step_s, wish.until_utc_s
    return history_trace(reader, points, store.history_step_s, max(0.0, since_s), until_s)


def _refuse_unused_maps(named: Sequence[Mapped], traces: Sequence[Trace]) -> None:
    names = {column.heading.casefold() for trace in traces for column in trace.columns}
    for one in named:
        wanted = one.heading.casefold()
        if not any(
            name == wanted or name.startswith((f"{wanted} (", f"{wanted}(", f"{wanted} [")) for name in names
        ):
            raise TraceError(f"--map {one.heading}={one.point}: no recording has a column headed {one.heading!r}.")


@contextmanager
def progress(what: str) -> Iterator[Callable[[float], None]]:
    """A bar on a terminal, nothing in a pipe; takes the share that is done."""
    bar = Progress(
        TextColumn(what),
        BarColumn(),
        TaskProgressColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
        disable=not sys.stderr.isatty(),
    )
    with bar:
        task = bar.add_task(what, total=1.0)
        yield lambda share: bar.update(task, completed=share)


def save(file: Path | None, document: Callable[[], str]) -> None:
    """Write a document where the person wants it; nothing where none is wanted."""
    if file is None:
        return
    try:
        file.write_text(document(), encoding="utf-8")
    except OSError as error:
        raise TraceError(f"{file} cannot be written ({error.strerror}).") from error
