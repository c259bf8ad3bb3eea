"""``cakewatch read``: one scan of everything in the site file, as a commissioning engineer wants to see it.

Raw word → loop current → engineering value → quality, point by point, next to the address it came from. Nothing
is judged, remembered or told.
"""

import asyncio
import json
import math
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table as Grid
from rich.text import Text

from monitor.acquire.once import read_once
from monitor.cli.site_file import load_or_exit
from monitor.clock import Clock
from monitor.condition import channel
from monitor.condition.channel import AnalogChannel
from monitor.scan.settings import PointPlan
from monitor.site.plan import SitePlan
from monitor.tell.notation import rfc3339
from monitor.words import UNIT_OF_ROLE, BlockRead, PointId, Quality, Reading, Role

_COLOURS = {Quality.GOOD: "green", Quality.UNCERTAIN: "yellow", Quality.BAD: "bold red"}
_NOT_ALL_GOOD = 1


@dataclass(frozen=True, slots=True)
class Row:
    """One point as it was read."""

    point: PointId
    plan: PointPlan
    words: tuple[int, ...]
    reading: Reading


@click.command()
@click.argument("site", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of a table.")
def read(site: Path, as_json: bool) -> None:
    """Read every point of the SITE file once, and show raw word, mA, value and quality.

    A loop current must stay at a failure level for 4 s (NAMUR NE 43) before it counts as failed; a single scan
    shows it as uncertain.

    \b
    Exit codes: 0 every reading is good, 1 some are not, 2 the site file is wrong.
    """  # noqa: D301  click wants the \b as it stands
    plan = load_or_exit(site)
    clock = Clock()
    reads = asyncio.run(read_once([link for link in plan.links.values() if link.sources], clock))
    rows = list(rows_of(plan, reads))
    if as_json:
        click.echo(json.dumps([_as_json(row) for row in rows], indent=2, ensure_ascii=False))
    else:
        _print(plan, rows)
    sys.exit(0 if all(row.reading.quality is Quality.GOOD for row in rows) else _NOT_ALL_GOOD)


def rows_of(plan: SitePlan, reads: Iterable[BlockRead]) -> Iterator[Row]:
    """Condition what one scan brought, in the order of the site file."""
    found: dict[PointId, tuple[tuple[int, ...], BlockRead]] = {}
    for block_read in reads:
        for slot in block_read.block.slots:
            found[slot.point] = (block_read.words_of(slot), block_read)
    for collector in plan.collectors.values():
        for role, point in collector.points.items():
            words, block_read = found[PointId(collector.name, role)]
            yield Row(PointId(collector.name, role), point, words, _reading(point, words, block_read))


def _reading(point: PointPlan, words: tuple[int, ...], read: BlockRead) -> Reading:
    begun = channel.start(point.channel)
    if read.failure is not None:
        return channel.fail(point.channel, begun, read.failure, read.at)[1]
    return channel.advance(point.channel, begun, words, read.at, None)[1]


def _print(plan: SitePlan, rows: list[Row]) -> None:
    console = Console()
    # Into a file or a pipe nothing is folded or cut: whatever reads it finds one point on one line.
    if not console.is_terminal:
        console = Console(width=max(200, console.width))
    grid = Grid(box=None, pad_edge=False, header_style="bold")
    for heading in ("point", "raw", "word(s)", "mA", "value", "quality", "where"):
        numeric = heading in ("raw", "mA", "value")
        grid.add_column(heading, justify="right" if numeric else "left", no_wrap=heading != "where")
    for row in rows:
        grid.add_row(*_cells(row))
    console.print(grid)
    for row in rows:
        if row.reading.quality is not Quality.GOOD:
            console.print(f"{row.plan.tag}: {row.reading.detail or row.reading.reason}", highlight=False)
    console.print(f"inH2O is the {plan.inch_of_water} inch of water, {plan.pa_per_inh2o:g} Pa.", highlight=False)


def _cells(row: Row) -> tuple[str | Text, ...]:
    reading = row.reading
    return (
        row.plan.tag,
        "" if reading.raw is None else f"{reading.raw:g}",
        " ".join(f"{word:04X}" for word in row.words) if isinstance(row.plan.channel, AnalogChannel) else "",
        "" if reading.current_ma is None else f"{reading.current_ma:.3f}",
        _shown(row.point.role, reading),
        Text(_quality(reading), style=_COLOURS[reading.quality]),
        row.plan.place,
    )


def _shown(role: Role, reading: Reading) -> str:
    if reading.value is None:
        return "–"
    if role not in UNIT_OF_ROLE:
        return "yes" if reading.value else "no"
    return f"{reading.value:.3f} {UNIT_OF_ROLE[role]}"


def _quality(reading: Reading) -> str:
    if reading.quality is Quality.GOOD:
        return "good"
    return f"{reading.quality.value}: {reading.reason.value.replace('_', ' ')}"


def _as_json(row: Row) -> dict[str, object]:
    reading = row.reading
    return {
        "collector": row.point.collector,
        "point": row.point.role.value,
        "tag": row.plan.tag,
        "where": row.plan.place,
        "words": list(row.words),
        # A float register may hold no number at all, which JSON cannot say.
        "raw": reading.raw if reading.raw is not None and math.isfinite(reading.raw) else None,
        "current_ma": reading.current_ma,
        "value": reading.value,
        "unit": UNIT_OF_ROLE.get(row.point.role),
        "quality": reading.quality.value,
        "reason": None if reading.quality is Quality.GOOD else reading.reason.value,
        "detail": reading.detail or None,
        "at": rfc3339(reading.at.utc_s),
    }
