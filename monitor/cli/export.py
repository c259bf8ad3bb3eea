"""``cakewatch export``: the history as CSV or Parquet."""

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import chain
from pathlib import Path

import click

from monitor.cli.export_csv import write_csv
from monitor.cli.export_parquet import write_parquet
from monitor.cli.export_table import Line, columns, lines
from monitor.cli.period import length, moment, period
from monitor.cli.site_file import load_or_exit
from monitor.clock import Clock
from monitor.errors import CakewatchError, StoreError
from monitor.remember.history_reading import HistoryReader
from monitor.remember.tier import Tier
from monitor.remember.tiers import Reach
from monitor.site.plan import SitePlan
from monitor.words import PointId, Role

#: The history is not there, holds nothing of it, or the file cannot be written.
CANNOT_EXPORT = 3
#: What is exported where no period is named.
USUAL_S = 86_400.0

_TIERS = {"step": Tier.STEPS, "minute": Tier.MINUTES, "hour": Tier.HOURS}
_LENGTH_S: Mapping[Tier, float] = {Tier.MINUTES: 60.0, Tier.HOURS: 3600.0}
_SCREEN = Path("-")


@click.command()
@click.argument("site", type=click.Path(path_type=Path))
@click.option(
    "--collector", "names", metavar="NAME", multiple=True, help="This collector; all unless one is named."
)
@click.option(
    "--point",
    "roles",
    type=click.Choice([role.value for role in Role]),
    multiple=True,
    help="This point; all unless one is named.",
)
@click.option(
    "--since", "since_utc_s", metavar="TIME", callback=moment, help="Begin there; UTC unless it says otherwise."
)
@click.option("--until", "until_utc_s", metavar="TIME", callback=moment, help="End there; now if it is not given.")
@click.option(
    "--last", "last_s", metavar="LENGTH", callback=length, help="So long, such as 90d or 12h; 1d unless told."
)
@click.option(
    "--every", type=click.Choice(list(_TIERS)), default="minute", help="A line for each.", show_default=True
)
@click.option(
    "--csv", "csv_file", metavar="FILE", type=click.Path(path_type=Path), help="Write CSV; - is the screen."
)
@click.option("--parquet", "parquet_file", metavar="FILE", type=click.Path(path_type=Path), help="Write Parquet.")
def export(  # noqa: PLR0913, PLR0917  a command line has as many options as it has
    site: Path,
    names: tuple[str, ...],
    roles: tuple[str, ...],
    since_utc_s: float | None,
    until_utc_s: float | None,
    last_s: float | None,
    every: str,
    csv_file: Path | None,
    parquet_file: Path | None,
) -> None:
    """Write the history of the SITE file's collectors as CSV or Parquet. It only reads: the daemon may run.

    A line for each step, minute or hour: when it begins, the time it ends, and for each point the last reading
    ("bad" where none was good), lowest, mean and highest, how many readings there were and which share of them was
    good, uncertain and bad. The mean of an hour is that of its good readings alone. `cakewatch rehearse` reads
    the CSV.

    \b
    Exit codes: 0 written, 2 the site file or an option is wrong,
    3 the history holds nothing of it, or a file cannot be written.
    """  # noqa: D301  click wants the \b as it stands
    span = period(since_utc_s, until_utc_s, last_s, now_utc_s=Clock().now().utc_s, usual_s=USUAL_S)
    plan = load_or_exit(site, with_secrets=False)
    try:
        with HistoryReader(plan.store.folder) as reader:
            found = _Asked(reader, plan, _TIERS[every], span, _points(reader, plan, names, roles))
            if parquet_file is not None:
                found.save_parquet(parquet_file)
            if csv_file is not None or parquet_file is None:
                found.save_csv(csv_file or _SCREEN)
    except CakewatchError as error:
        click.echo(f"cakewatch: {error}", err=True)
        sys.exit(CANNOT_EXPORT)


def _points(
    reader: HistoryReader, plan: SitePlan, names: Sequence[str], roles: Sequence[str]
) -> tuple[PointId, ...]:
    """The recorded points that are meant; a collector that is named may have left the site file since."""
    recorded = set(reader.points().values())
    known = [PointId(name, role) for name, collector in plan.collectors.items() for role in collector.points]
    known += sorted(point for point in recorded - set(known) if point.collector in names)
    for name in names:
        if all(point.collector != name for point in known):
            raise StoreError(f"There is no collector {name!r}; the site file has {', '.join(plan.collectors)}.")
    wanted = tuple(
        point
        for point in known
        if point in recorded
        and (not names or point.collector in names)
        and (not roles or point.role.value in roles)
    )
    if not wanted:
        raise StoreError("The history holds no such point of these collectors: no daemon has recorded it yet.")
    return wanted


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is exported."""

    reader: HistoryReader
    plan: SitePlan
    tier: Tier
    span: tuple[float, float]
    points: tuple[PointId, ...]

    def lines(self) -> Iterator[Line]:
        """The table's lines.

        Raises:
            StoreError: there is none.
        """
        rows = self.reader.rows_of(self.tier, self.points, *self.span)
        first = next(rows, None)
        if first is None:
            raise StoreError(f"The history holds nothing of that time. {_reach(self.reader.reach())}")
        step_s = _LENGTH_S.get(self.tier, self.plan.store.history_step_s)
        return lines(chain([first], rows), self.points, step_s)

    def save(self, path: Path, write: Callable[[Path, Iterator[Line]], None]) -> None:
        """Write under a name beside it first: half an export must not look like a whole one."""
        part = path.with_name(path.name + ".part")
        found = self.lines()
        try:
            write(part, found)
            part.replace(path)
        except OSError as error:
            raise StoreError(f"{path} cannot be written ({error.strerror or error}).") from error
        finally:
            with suppress(OSError):
                part.unlink(missing_ok=True)

    def save_parquet(self, path: Path) -> None:
        """Write a Parquet file."""
        self.save(path, lambda part, found: write_parquet(part, columns(self.points), found))

    def save_csv(self, path: Path) -> None:
        """Write a CSV file, or onto the screen."""
        if path == _SCREEN:
            write_csv(sys.stdout, columns(self.points), self.lines())
        else:
            self.save(path, self._write_csv)

    def _write_csv(self, path: Path, found: Iterator[Line]) -> None:
        with path.open("w", encoding="utf-8", newline="") as file:
            write_csv(file, columns(self.points), found)


def _reach(reach: Reach) -> str:
    """How far back each tier goes, in a sentence."""
    kept = [
        f"{name} since {datetime.fromtimestamp(span.oldest_utc_s, UTC):%Y-%m-%d %H:%M} UTC"
        for name, span in (("steps", reach.steps), ("minutes", reach.minutes), ("hours", reach.hours))
        if span is not None
    ]
    return f"It has {', '.join(kept)}." if kept else "It is empty."
