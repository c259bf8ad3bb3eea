"""Rehearse screen: a rehearsal for a terminal: the headline, a chart for each collector, and the tables."""

from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from monitor.cli import demo_chart
from monitor.judge.table import ACTIVE, HELD, WAITING
from monitor.report.chart_axis import time_ticks
from monitor.report.rehearsal import CollectorStory, Raising, Rehearsal
from monitor.report.rehearsal_reading import behind, lines
from monitor.report.rehearsal_strip import MARKS, strip
from monitor.report.rehearsal_summary import headline, line_of, period, tally_rows
from monitor.report.rehearsal_words import back, count, duration, ending, extreme, sight, stamp
from monitor.words import AlarmState

_CHART_ROWS = 6
#: Raisings listed on a terminal; a pipe gets all of them.
MOST_ROWS = 60


def screen(rehearsals: Sequence[Rehearsal], *, width: int, most_rows: int = MOST_ROWS) -> Group:
    """Everything, ``width`` columns wide (60 or more)."""
    names = dict.fromkeys(name for one in rehearsals for name in one.collectors)
    parts: list[RenderableType] = [
        Text(headline(rehearsals), "bold"),
        Text(period(rehearsals[0]), "dim"),
        Text(""),
    ]
    for name in names:
        parts += [*_collector(rehearsals, name, width), Text("")]
    parts += [_key(), Text("")]
    if len(rehearsals) > 1:
        parts += [_tallies(rehearsals), Text("")]
    for one in rehearsals:
        parts += [*_raisings(one, most_rows, is_only=len(rehearsals) == 1), Text("")]
    return Group(*parts, *_readings(rehearsals), *_data(rehearsals))


def _collector(rehearsals: Sequence[Rehearsal], name: str, width: int) -> Iterator[Text]:
    stories = [(one, one.collectors[name]) for one in rehearsals if name in one.collectors]
    first, story = stories[0]
    margin = min(24, max([7, *(len(line.tag) for _, one in stories for line in one.alarms)])) + 1
    columns = width - margin - 1
    yield Text.assemble(
        (name, "bold"), f"  {story.description}" if story.description else "", ("  DP, inH2O", "dim")
    )
    yield from _dp(first, story, margin, columns)
    for rehearsal, one in stories:
        if len(stories) > 1:
            yield Text(" " * margin + rehearsal.file, "dim")
        for line in one.alarms:
            label = line.tag if len(line.tag) < margin else line.tag[: margin - 2] + "…"
            states = strip(line.changes, first.begins_utc_s, first.ends_utc_s, columns)
            yield Text.assemble(f"{label:>{margin - 1}} ", _states(states))
    yield _times(first, margin, columns)


def _dp(first: Rehearsal, story: CollectorStory, margin: int, columns: int) -> Iterator[Text]:
    seen = story.curve.resampled(first.begins_utc_s, first.ends_utc_s, columns)
    setpoints = [line.setpoint_inh2o for line in story.alarms if line.setpoint_inh2o is not None]
    scale = demo_chart.scale_of(seen.highest, setpoints)
    drawn = demo_chart.draw(seen.highest, setpoints, scale, width=columns, height=_CHART_ROWS)
    for number, (line, setpoint) in enumerate(zip(drawn.lines, drawn.band_rows, strict=True)):
        label = "" if setpoint is None else f"{setpoint:g}"
        if not label and number in (0, _CHART_ROWS - 1):
            label = f"({scale.high if number == 0 else scale.low:.1f})"
        text = Text(f"{label:>{margin - 1}} ", "dim")
        for is_line, run in groupby(line, key=lambda mark: mark == demo_chart.BAND_LINE):
            text.append("".join(run), "yellow dim" if is_line else "cyan")
        yield text


def _states(states: Sequence[AlarmState]) -> Text:
    text = Text()
    for state, run in groupby(states):
        text.append(MARKS[state] * len(list(run)), _style(state))
    return text


def _style(state: AlarmState) -> str:
    if state in ACTIVE:
        return "bold red"
    if state in HELD:
        return "blue"
    return "yellow" if state in WAITING else "dim"


def _times(first: Rehearsal, margin: int, columns: int) -> Text:
    """The time along the lower edge; no label runs into the next."""
    line = [" "] * columns
    span_s = max(1e-9, first.ends_utc_s - first.begins_utc_s)
    for at_s, words in time_ticks(first.begins_utc_s, first.ends_utc_s, max(1, columns // 11)):
        at = int((at_s - first.begins_utc_s) / span_s * columns)
        if at + len(words) + 1 <= columns and all(
            mark == " " for mark in line[max(0, at - 1) : at + len(words) + 2]
        ):
            line[at : at + len(words) + 1] = f"╵{words}"
    return Text(" " * margin + "".join(line).rstrip(), "dim")


def _key() -> Text:
    key = Text()
    shown = (
        (AlarmState.UNACKNOWLEDGED, "active"),
        (AlarmState.LATCHED_UNACKNOWLEDGED, "latched"),
        (AlarmState.RETURNED_UNACKNOWLEDGED, "back, not answered"),
        (AlarmState.SUPPRESSED_BY_DESIGN, "suppressed"),
        (AlarmState.NORMAL, "normal"),
    )
    for state, words in shown:
        key.append(MARKS[state], _style(state)).append(f" {words}   ", "dim")
    return key


def _tallies(rehearsals: Sequence[Rehearsal]) -> Table:
    grid = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    grid.add_column("alarm", no_wrap=True)
    for one in rehearsals:
        grid.add_column(one.file, justify="right")
        grid.add_column("active", justify="right", style="dim")
    for row in tally_rows(rehearsals):
        cells = [row.tag]
        for tally in row.tallies:
            there = f"{tally.raised:,}" if tally.setting else "not there"
            cells += [there, duration(tally.active_s) if tally.raised else ""]
        grid.add_row(*cells)
    totals = [cell for one in rehearsals for cell in (f"{len(one.raisings):,}", "")]
    grid.add_row("all", *totals, style="bold")
    return grid


def _raisings(rehearsal: Rehearsal, most: int, *, is_only: bool) -> Iterator[RenderableType]:
    found = rehearsal.raisings
    if not found:
        if not is_only:
            yield Text(f"No alarm with {rehearsal.file}.")
        return
    if not is_only:
        yield Text(f"With {rehearsal.file}", "bold")
    grid = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    reads = any(story.read is not None for story in rehearsal.collectors.values())
    for heading, side in (
        ("alarm", "left"),
        ("raised (UTC)", "left"),
        ("back", "left"),
        ("active", "right"),
        ("DP", "right"),
        ("ended by", "left"),
    ):
        grid.add_column(heading, justify="right" if side == "right" else "left", no_wrap=heading != "ended by")
    if reads:
        grid.add_column("what may be behind it")
    for one in found[:most]:
        grid.add_row(*_cells(rehearsal, one), *([behind(one)] if reads else []))
    yield grid
    if len(found) > most:
        yield Text(f"… and {count(len(found) - most, 'alarm')} more; --html or --json shows all.", "dim")


def _cells(rehearsal: Rehearsal, one: Raising) -> tuple[str | Text, ...]:
    line = line_of(rehearsal, one.collector, one.tag)
    active = Text(duration(one.active_s(rehearsal.ends_utc_s)), "" if one.back_utc_s is not None else "bold red")
    return one.tag, stamp(one.raised_utc_s), back(one), active, extreme(line, one), ending(one)


def _readings(rehearsals: Sequence[Rehearsal]) -> Iterator[Text]:
    """What the curves said; the same under every site file but for its settings."""
    found = dict.fromkeys(line for one in rehearsals for story in one.collectors.values() for line in lines(story))
    if found:
        yield Text("What the curve says", "bold")
        yield from map(Text, found)
        yield Text("")


def _data(rehearsals: Sequence[Rehearsal]) -> Iterator[Text]:
    lines = dict.fromkeys(sight(story.name, story.sight) for story in rehearsals[0].collectors.values())
    for one in rehearsals:
        lines.update(dict.fromkeys(one.notes))
    for line in lines:
        yield Text(line, "dim")
