"""``cakewatch rehearse``: recorded data through the same judge, before a set point goes live."""

import json
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import replace
from datetime import tzinfo
from math import inf
from pathlib import Path

import click
from rich.console import Console

from monitor.acquire.traces.headings import Mapped
from monitor.cli.recordings import CANNOT_READ, Asked, moment, open_all, progress, save
from monitor.cli.recordings import mapped as mapped_of
from monitor.cli.recordings import zone as zone_of
from monitor.cli.rehearse_screen import MOST_ROWS, screen
from monitor.cli.site_file import WRONG_FILE, load_or_exit
from monitor.errors import CakewatchError
from monitor.rehearse.whole import Site, Wish, known_points
from monitor.rehearse.whole import rehearse as run
from monitor.report.chart_svg import svg
from monitor.report.rehearsal import Rehearsal
from monitor.report.rehearsal_json import as_json as rehearsal_json
from monitor.report.rehearsal_page import page

#: Into a file or a pipe nothing is folded, and everything is listed.
_PIPE_COLUMNS = 120


@click.command()
@click.argument("site", type=click.Path(path_type=Path))
@click.argument("traces", nargs=-1, metavar="TRACE...", type=click.Path(path_type=Path))
@click.option("--history", is_flag=True, help="Rehearse the daemon's own history too; the daemon may run.")
@click.option(
    "--against", metavar="SITE", type=click.Path(path_type=Path), help="Another site file, side by side."
)
@click.option("--since", metavar="TIME", help="Begin there; UTC unless it (or --zone) says otherwise.")
@click.option("--until", metavar="TIME", help="End there.")
@click.option("--zone", metavar="ZONE", callback=zone_of, help="Where times without a zone were recorded.")
@click.option(
    "--map",
    "mapped",
    metavar="COLUMN=POINT[:UNIT]",
    multiple=True,
    callback=mapped_of,
    help="What a column is; may be given more than once.",
)
@click.option(
    "--svg", "svg_file", metavar="FILE", type=click.Path(path_type=Path), help="Draw the charts into FILE."
)
@click.option(
    "--html", "html_file", metavar="FILE", type=click.Path(path_type=Path), help="Write a page into FILE."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of charts and tables.")
@click.option(
    "--curve", is_flag=True, help="Read the curves too: cleaning cycles, filters, causes, compressed air."
)
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
    curve: bool,
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
    wish = Wish(
        since_utc_s=moment(since, zone, -inf), until_utc_s=moment(until, zone, inf), exact=exact, curve=curve
    )
    sites = [
        Site(path.name, load_or_exit(path, with_secrets=False)) for path in (site, against) if path is not None
    ]
    _refuse_two_inches(sites)
    try:
        found = _rehearsed(sites, Asked(traces, history, zone, mapped), wish)
        save(svg_file, lambda: svg(found))
        save(html_file, lambda: page(found))
    except CakewatchError as error:
        click.echo(f"cakewatch: {error}", err=True)
        sys.exit(CANNOT_READ)
    _show(found, as_json=as_json)


def _refuse_two_inches(sites: Sequence[Site]) -> None:
    if len({site.plan.pa_per_inh2o for site in sites}) > 1:
        meant = " and ".join(f"{site.file} the {site.plan.inch_of_water}" for site in sites)
        click.echo(f"cakewatch: the site files mean different inches of water ({meant}): make them one.", err=True)
        sys.exit(WRONG_FILE)


def _rehearsed(sites: Sequence[Site], asked: Asked, wish: Wish) -> list[Rehearsal]:
    known = known_points(sites, asked.mapped)
    with ExitStack() as stack:
        opened = open_all(sites[0], asked, known, stack, wish)
        follow = stack.enter_context(progress("rehearsing"))
        return run(sites, opened, replace(wish, progress=follow))


def _show(found: Sequence[Rehearsal], *, as_json: bool) -> None:
    if as_json:
        click.echo(json.dumps(rehearsal_json(found), indent=2, ensure_ascii=False))
        return
    console = Console(highlight=False)
    if not console.is_terminal:
        console = Console(highlight=False, width=max(_PIPE_COLUMNS, console.width))
    most = MOST_ROWS if console.is_terminal else sys.maxsize
    console.print(screen(found, width=console.width, most_rows=most))
