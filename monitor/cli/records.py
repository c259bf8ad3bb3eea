"""``cakewatch records``: what a permit asks for, as tables, CSV files and a page to print and sign."""

import json
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import click

from monitor import __version__
from monitor.cli.records_period import chosen_day, chosen_month, period
from monitor.cli.records_sources import sources_of
from monitor.cli.site_file import WRONG_FILE, load_or_exit
from monitor.clock import Clock
from monitor.errors import StoreError
from monitor.report.permit import csv_tables, json_form, page, text
from monitor.report.permit.printing import Printing
from monitor.report.permit.records import Records
from monitor.report.permit.records import records as worked_out
from monitor.site.plan import SitePlan

#: The history is not there or cannot be read, or a file cannot be written.
CANNOT_TELL = 3


@click.command()
@click.argument("site", type=click.Path(path_type=Path))
@click.option(
    "--collector", "names", metavar="NAME", multiple=True, help="This collector; all with a permit unless named."
)
@click.option("--month", "of_month", metavar="YYYY-MM", callback=chosen_month, help="This month, such as 2026-10.")
@click.option("--year", "of_year", type=click.IntRange(1971, 9998), help="This year.")
@click.option(
    "--since", metavar="DATE", callback=chosen_day, help="From the begin of this day, such as 2026-10-01."
)
@click.option(
    "--until", metavar="DATE", callback=chosen_day, help="Up to the begin of this day; now if not given."
)
@click.option(
    "--csv", "csv_folder", metavar="FOLDER", type=click.Path(path_type=Path), help="Write the CSV files there."
)
@click.option(
    "--html",
    "html_file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the page to print and sign.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of a summary.")
def records(  # noqa: PLR0913, PLR0917  a command line has as many options as it has
    site: Path,
    names: tuple[str, ...],
    of_month: tuple[int, int] | None,
    of_year: int | None,
    since: date | None,
    until: date | None,
    csv_folder: Path | None,
    html_file: Path | None,
    as_json: bool,
) -> None:
    """Show the records that a permit asks for, of the collectors of the SITE file that have one.

    Hourly averages by the rule for a valid hour that the permit names, excursions with the cause and the action
    that people recorded (cakewatch record-action), monitor downtime with its causes, data availability. Days and
    months are those of the site's time zone; the month before this one unless told otherwise. It only reads: the
    daemon may run. The permit decides; this is no legal advice.

    \b
    Exit codes: 0 told, 2 the site file or an option is wrong,
    3 the history or the journal is not there, or a file cannot be written.
    """  # noqa: D301  click wants the \b as it stands
    plan = load_or_exit(site, with_secrets=False)
    zone, now_utc_s = ZoneInfo(plan.time_zone), Clock().now().utc_s
    wanted = _wanted(plan, names, site)
    asked = period(of_month, of_year, since, until, now_utc_s, zone)
    printing = Printing(plan.name, str(site), __version__, now_utc_s, plan.inch_of_water, plan.time_zone)
    try:
        found = [worked_out(one) for one in sources_of(plan, wanted, asked, zone)]
        _write(found, printing, csv_folder, html_file)
    except StoreError as error:
        click.echo(f"cakewatch: {error}", err=True)
        sys.exit(CANNOT_TELL)
    if as_json:
        click.echo(json.dumps([json_form.as_json(one, printing) for one in found], indent=1, ensure_ascii=False))
    else:
        click.echo("\n".join(text.text(one, printing) for one in found), nl=False)


def _wanted(plan: SitePlan, names: Sequence[str], site: Path) -> list[str]:
    """The collectors that are meant, in the site file's order; none with a permit ends the command."""
    for name in names:
        if name not in plan.collectors:
            _refuse(f"There is no collector {name!r}; {site} has {', '.join(plan.collectors)}.")
        if name not in plan.permits:
            _refuse(
                f"{name} has no permit in {site}: write collectors.{name}.permit with the rule for a valid hour "
                "and the range that the permit gives, or name another collector."
            )
    if not plan.permits:
        _refuse(
            f"No collector in {site} has a permit: write collectors.<name>.permit with the rule for a valid hour "
            "(valid_hour) and the range (low, high) that the permit gives."
        )
    return [name for name in plan.collectors if name in plan.permits and (not names or name in names)]


def _refuse(sentence: str) -> None:
    click.echo(f"cakewatch: {sentence}", err=True)
    sys.exit(WRONG_FILE)


def _write(found: Sequence[Records], printing: Printing, csv_folder: Path | None, html_file: Path | None) -> None:
    """Both forms, each file under a name beside its own first: half a record must not look like one.

    Raises:
        StoreError: a file cannot be written.
    """
    files: dict[Path, str] = {}
    if html_file is not None:
        files[html_file] = page.page(found, printing)
    if csv_folder is not None:
        files |= {csv_folder / name: words for name, words in csv_tables.tables(found, printing).items()}
    for path, words in files.items():
        part = path.with_name(path.name + ".part")
        try:
            if csv_folder is not None and path.parent == csv_folder:
                csv_folder.mkdir(parents=True, exist_ok=True)
            part.write_text(words, encoding="utf-8", newline="")
            part.replace(path)
        except OSError as error:
            raise StoreError(f"{path} cannot be written ({error.strerror or error}).") from error
        click.echo(f"wrote {path}", err=True)
