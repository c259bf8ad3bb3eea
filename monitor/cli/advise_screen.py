"""Advise screen: an advice for a terminal: what to do, why, before and after, how far to believe it."""

from collections.abc import Iterable, Iterator

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from monitor.interpret.advice.advising import Advice
from monitor.report.advice import AdviceStory, SiteAdvice
from monitor.report.advice_rows import alarm_cells, rows
from monitor.report.advice_words import CAUTIONS, band_change, band_words, doubts, headline, reasons
from monitor.report.rehearsal_words import duration, stamp


def screen(told: SiteAdvice, currencies: Iterable[str]) -> Group:
    """Everything; ``currencies`` are the moneys of the collectors, in their order."""
    span = f"{stamp(told.begins_utc_s)} to {stamp(told.ends_utc_s)} UTC"
    length = duration(told.ends_utc_s - told.begins_utc_s)
    parts: list[RenderableType] = [Text(f"{told.site}, {span} ({length})", "dim"), Text("")]
    for story, currency in zip(told.stories, currencies, strict=True):
        parts += [*_story(story, currency)]
    parts += [Text("Before you change anything", "bold"), *_lines(CAUTIONS, "")]
    return Group(*parts, *_lines(told.notes, "dim"))


def _story(story: AdviceStory, currency: str) -> Iterator[RenderableType]:
    yield Text(headline(story), "bold")
    if story.advice is not None:
        yield from _lines(reasons(story.advice), "")
        yield Text("")
        yield _figures(story.advice, currency)
        yield Text("")
        yield _bands(story.advice)
        yield Text("")
        yield _alarms(story)
        yield Text("")
        yield from _lines(doubts(story.advice), "dim")
    yield Text("")


def _lines(lines: Iterable[str], style: str) -> Iterator[RenderableType]:
    """Each with a mark before it, its further lines under its first."""
    for line in lines:
        grid = Table.grid(padding=(0, 1, 0, 0))
        grid.add_row(Text("·", "dim"), Text(line, style))
        yield Padding(grid, (0, 0, 0, 1))


def _table(*headings: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    for number, heading in enumerate(headings):
        table.add_column(heading, justify="right" if number else "left")
    return table


def _figures(advice: Advice, currency: str) -> Table:
    table = _table("a day of running", "now", "as advised", "may lie")
    for row in rows(advice, currency):
        table.add_row(
            row.name,
            row.before,
            Text(row.after, "bold" if row.after != row.before else ""),
            Text(row.doubt, "dim"),
        )
    return table


def _bands(advice: Advice) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    for heading in ("band", "now", "as advised"):
        table.add_column(heading)
    for band in advice.bands:
        moved = band.advised != band.now
        table.add_row(band.now.tag, band_words(band.now), Text(band_change(band), "bold" if moved else "dim"))
    return table


def _alarms(story: AdviceStory) -> Table:
    table = _table(
        "alarms", "recording,\nbands now", "recording,\nbands advised", "replay,\nall now", "replay,\nall advised"
    )
    for row in alarm_cells(story):
        table.add_row(*row, style="bold" if row.tag == "all" else "")
    return table
