"""``cakewatch advise``: where start and stop of the cleaning and the warning bands belong, from recorded data."""

import json
import sys
from contextlib import ExitStack
from dataclasses import replace
from datetime import tzinfo
from math import inf
from pathlib import Path

import click
from rich.console import Console

from monitor.acquire.traces.headings import Mapped
from monitor.acquire.traces.trace import Trace
from monitor.cli.advise_screen import screen
from monitor.cli.period import length
from monitor.cli.recordings import CANNOT_READ, Asked, moment, open_all, progress, save
from monitor.cli.recordings import mapped as mapped_of
from monitor.cli.recordings import zone as zone_of
from monitor.cli.site_file import WRONG_FILE, load_or_exit
from monitor.errors import CakewatchError
from monitor.rehearse.advising import advise_site, ends_utc_s
from monitor.rehearse.whole import Site, Wish, known_points
from monitor.report.advice import SiteAdvice
from monitor.report.advice_json import as_json as advice_json
from monitor.report.advice_page import page

#: Into a file or a pipe nothing is folded.
_PIPE_COLUMNS = 120


@click.command()
@click.argument("site", type=click.Path(path_type=Path))
@click.argument("traces", nargs=-1, metavar="TRACE...", type=click.Path(path_type=Path))
@click.option("--collector", metavar="NAME", default="", help="This collector alone.")
@click.option("--history", is_flag=True, help="Use the daemon's own history too; the daemon may run.")
@click.option("--since", metavar="TIME", help="Begin there; UTC unless it (or --zone) says otherwise.")
@click.option("--until", metavar="TIME", help="End there.")
@click.option(
    "--last", "last_s", metavar="LENGTH", callback=length, help="The last so much of the data, such as 30d or 12h."
)
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
    "--html", "html_file", metavar="FILE", type=click.Path(path_type=Path), help="Write a page into FILE."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of tables.")
def advise(  # noqa: PLR0913, PLR0917  a command line has as many options as it has
    site: Path,
    traces: tuple[Path, ...],
    collector: str,
    history: bool,
    since: str | None,
    until: str | None,
    last_s: float | None,
    zone: tzinfo | None,
    mapped: tuple[Mapped, ...],
    html_file: Path | None,
    as_json: bool,
) -> None:
    """Advise where the cleaning's set points and the warning bands belong, from recorded data.

    A TRACE is a recording as `cakewatch rehearse` takes it. The advice is tried out on the same data: cleanings,
    compressed air, wear and alarms, before and after, side by side. It only advises: nothing is set, and nothing
    is written but the file you name.

    \b
    Exit codes: 0 told (also that there is no advice), 2 a site file or an option is wrong,
    3 a recording or the history cannot be used.
    """  # noqa: D301  click wants the \b as it stands
    if not traces and not history:
        raise click.UsageError("Name a TRACE to learn from, or --history for the daemon's own.")
    if since is not None and last_s is not None:
        raise click.UsageError("--since and --last both say where to begin: give one of them.")
    wish = Wish(since_utc_s=moment(since, zone, -inf), until_utc_s=moment(until, zone, inf))
    one = Site(site.name, load_or_exit(site, with_secrets=False))
    _refuse_unknown(one, collector)
    try:
        told = _advised(one, Asked(traces, history, zone, mapped), wish, collector, last_s)
        save(html_file, lambda: page(told, _currencies(one, told)))
    except CakewatchError as error:
        click.echo(f"cakewatch: {error}", err=True)
        sys.exit(CANNOT_READ)
    _show(one, told, as_json=as_json)


def _refuse_unknown(site: Site, collector: str) -> None:
    if collector and collector not in site.plan.collectors:
        there = ", ".join(site.plan.collectors)
        click.echo(f"cakewatch: {site.file} has no collector {collector!r}; it has {there}.", err=True)
        sys.exit(WRONG_FILE)


def _advised(site: Site, asked: Asked, wish: Wish, collector: str, last_s: float | None) -> SiteAdvice:
    known = known_points([site], asked.mapped)
    with ExitStack() as stack:

        def opens() -> list[Trace]:
            return open_all(site, asked, known, stack, wish)

        if last_s is not None:
            wish = replace(wish, since_utc_s=ends_utc_s(opens(), wish) - last_s)
        follow = stack.enter_context(progress("learning"))
        return advise_site(site, opens, replace(wish, progress=follow), collector)


def _currencies(site: Site, told: SiteAdvice) -> list[str]:
    curves = [site.plan.collectors[story.name].curve for story in told.stories]
    return ["" if curve is None else curve.air.currency for curve in curves]


def _show(site: Site, told: SiteAdvice, *, as_json: bool) -> None:
    if as_json:
        click.echo(json.dumps(advice_json(told), indent=2, ensure_ascii=False))
        return
    console = Console(highlight=False)
    if not console.is_terminal:
        console = Console(highlight=False, width=max(_PIPE_COLUMNS, console.width))
    console.print(screen(told, _currencies(site, told)))
