"""``cakewatch rehearse``: recorded data through the same judge, before a set point goes live."""

import json
import sys
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import UTC, datetime, tzinfo
from math import inf
from pathlib import Path
from zoneinfo import ZoneInfo

import click
from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from monitor.acquire.traces.headings import Mapped, parse_map
from monitor.acquire.traces.moments import one_moment
from monitor.acquire.traces.opening import open_trace
from monitor.acquire.traces.trace import Trace, TraceError
from monitor.cli.rehearse_screen import MOST_ROWS, screen
from monitor.cli.site_file import WRONG_FILE, load_or_exit
from monitor.errors import CakewatchError
from monitor.rehearse.history import history_trace
from monitor.rehearse.whole import Site, Wish, known_points
from monitor.rehearse.whole import rehearse as run
from monitor.remember.history_reading import HistoryReader
from monitor.report.chart_svg import svg
from monitor.report.rehearsal import Rehearsal
from monitor.report.rehearsal_json import as_json as rehearsal_json
from monitor.report.rehearsal_page import page
from monitor.words import PointId

#: A recording (or the history) cannot be used.
CANNOT_READ = 3
#: Into a file or a pipe nothing is folded, and everything is listed.
_PIPE_COLUMNS = 120


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the command line asks for."""

    traces: tuple[Path, ...]
    history: bool
    zone: tzinfo | None
    mapped: tuple[Mapped, ...]


def _zone(_context: click.Context, _parameter: click.Parameter, value: str | None) -> tzinfo | None:
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


def _mapped(_context: click.Context, _parameter: click.Parameter, values: tuple[str, ...]) -> tuple[Mapped, ...]:
    try:
        return tuple(parse_map(value) for value in values)
    except ValueError as error:
        raise click.BadParameter(str(error)) from None


@click.command()
@click.argument("site", type=click.Path(path_type=Path))
@click.argument("traces", nargs=-1, metavar="TRACE...", type=click.Path(path_type=Path))
@click.option("--history", is_flag=True, help="Rehearse the daemon's own history too; the daemon may run.")
@click.option(
    "--against", metavar="SITE", type=click.Path(path_type=Path), help="Another site file, side by side."
)
@click.option("--since", metavar="TIME", help="Begin there; UTC unless it (or --zone) says otherwise.")
@click.option("--until", metavar="TIME", help="End there.")
@click.option("--zone", metavar="ZONE", callback=_zone, help="Where times without a zone were recorded.")
@click.option(
    "--map",
    "mapped",
    metavar="COLUMN=POINT[:UNIT]",
    multiple=True,
    callback=_mapped,
    help="What a column is; may be given more than once.",
)
@click.option(
    "--svg", "svg_file", metavar="FILE", type=click.Path(path_type=Path), help="Draw the charts into FILE."
)
@click.option(
    "--html", "html_file", metavar="FILE", type=click.Path(path_type=Path), help="Write a page into FILE."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of charts and tables.")
@click.option("--exact", is_flag=True, help="Sample by sample, calm stretches too: slow, and the same.")
def rehearse(  # noqa: PLR0913, PLR0917  a command line has as many options as it has
    site: Path,
    traces: tuple[Path, ...],
    history: bool,
    against: Path | None,
    since: str | None,
    until: str | None,
    zone: tzinfo | None,
    mapped: tuple[Mapped, ...],
    svg_file: Path | None,
    html_file: Path | None,
    as_json: bool,
    exact: bool,
) -> None:
    """Run recorded data through the judge: which alarms would the SITE file have given?

    A TRACE is a CSV file whose first line names the columns (or a Parquet file): one column is the time, the
    others are points by tag (PDT-101), by collector and role (DC-101.dp) or by --map; the unit may stand behind,
    as in "PDT-101 (kPa)". Nothing is written but the files you name.

    \b
    Exit codes: 0 told, 2 a site file or an option is wrong,
    3 a recording or the history cannot be used.
    """  # noqa: D301  click wants the \b as it stands
    if not traces and not history:
        raise click.UsageError("Name a TRACE to rehearse with, or --history for the daemon's own.")
    wish = Wish(since_utc_s=_moment(since, zone, -inf), until_utc_s=_moment(until, zone, inf), exact=exact)
    sites = [
        Site(path.name, load_or_exit(path, with_secrets=False)) for path in (site, against) if path is not None
    ]
    _refuse_two_inches(sites)
    try:
        found = _rehearsed(sites, _Asked(traces, history, zone, mapped), wish)
        _save(svg_file, lambda: svg(found))
        _save(html_file, lambda: page(found))
    except CakewatchError as error:
        click.echo(f"cakewatch: {error}", err=True)
        sys.exit(CANNOT_READ)
    _show(found, as_json=as_json)


def _moment(text: str | None, zone: tzinfo | None, unsaid: float) -> float:
    try:
        return unsaid if text is None else one_moment(text, zone or UTC)
    except ValueError as error:
        raise click.UsageError(f"--since and --until: {error}.") from None


def _refuse_two_inches(sites: Sequence[Site]) -> None:
    if len({site.plan.pa_per_inh2o for site in sites}) > 1:
        meant = " and ".join(f"{site.file} the {site.plan.inch_of_water}" for site in sites)
        click.echo(f"cakewatch: the site files mean different inches of water ({meant}): make them one.", err=True)
        sys.exit(WRONG_FILE)


def _rehearsed(sites: Sequence[Site], asked: _Asked, wish: Wish) -> list[Rehearsal]:
    known = known_points(sites, asked.mapped)
    with ExitStack() as stack:
        opened = [open_trace(path, known, asked.zone) for path in asked.traces]
        if asked.history:
            opened.append(_history(sites[0], stack, wish))
        _refuse_unused_maps(asked.mapped, opened)
        bar = Progress(
            TextColumn("rehearsing"),
            BarColumn(),
            TaskProgressColumn(),
            TimeRemainingColumn(),
            console=Console(stderr=True),
            transient=True,
            disable=not sys.stderr.isatty(),
        )
        stack.enter_context(bar)
        task = bar.add_task("rehearsing", total=1.0)
        return run(sites, opened, replace(wish, progress=lambda share: bar.update(task, completed=share)))


def _history(site: Site, stack: ExitStack, wish: Wish) -> Trace:
    store = site.plan.store
    reader = stack.enter_context(HistoryReader(store.folder))
    points = [PointId(name, role) for name, plan in site.plan.collectors.items() for role in plan.points]
    # A step is taken at its end, so the one that ends in the asked time began before it.
    since_s, until_s = wish.since_utc_s - store.history_step_s, wish.until_utc_s
    return history_trace(reader, points, store.history_step_s, max(0.0, since_s), until_s)


def _refuse_unused_maps(mapped: Sequence[Mapped], traces: Sequence[Trace]) -> None:
    names = {column.heading.casefold() for trace in traces for column in trace.columns}
    for one in mapped:
        wanted = one.heading.casefold()
        if not any(
            name == wanted or name.startswith((f"{wanted} (", f"{wanted}(", f"{wanted} [")) for name in names
        ):
            raise TraceError(f"--map {one.heading}={one.point}: no recording has a column headed {one.heading!r}.")


def _save(file: Path | None, document: Callable[[], str]) -> None:
    if file is None:
        return
    try:
        file.write_text(document(), encoding="utf-8")
    except OSError as error:
        raise TraceError(f"{file} cannot be written ({error.strerror}).") from error


def _show(found: Sequence[Rehearsal], *, as_json: bool) -> None:
    if as_json:
        click.echo(json.dumps(rehearsal_json(found), indent=2, ensure_ascii=False))
        return
    console = Console(highlight=False)
    if not console.is_terminal:
        console = Console(highlight=False, width=max(_PIPE_COLUMNS, console.width))
    most = MOST_ROWS if console.is_terminal else sys.maxsize
    console.print(screen(found, width=console.width, most_rows=most))
