"""Demo screen: one moment of the demonstration, drawn for a terminal. Pure: a view goes in, a picture comes out.

Every piece is exactly one line, so that the picture is as high as was asked for and never flickers.
"""

import textwrap
from itertools import groupby
from operator import itemgetter

from rich.console import Group
from rich.text import Text

from monitor.cli import demo_chart, demo_words
from monitor.cli.demo_chart import Scale
from monitor.cli.demo_view import AlarmView, CollectorView, DemoView, duration
from monitor.judge.settings import Band, Side
from monitor.judge.table import ACTIVE
from monitor.words import AlarmState, Event, Quality, Reading, Role

_AXIS = 7
_TALLEST_CHART = 6
_ROWS_FOR_BANDS = 3
_QUALITY_STYLE = {Quality.GOOD: "green", Quality.UNCERTAIN: "yellow", Quality.BAD: "bold red"}


def screen(view: DemoView, *, width: int = 80, height: int = 24) -> Group:
    """Draw the view at most ``width`` columns wide (80 or more) and, from 24 lines on, ``height`` lines high."""
    rows, event_lines = _shares(view, height)
    lines = [*_head(view, width)]
    for collector in view.collectors:
        lines += _collector(view, collector, width, rows)
    lines += _events(view, width, event_lines)
    lines += _places(view, width)
    return Group(*(_fitted(line, width) for line in lines))


def _shares(view: DemoView, height: int) -> tuple[int, int]:
    """Return how high each chart is, and how many lines the events get."""
    count = max(1, len(view.collectors))
    spare = max(0, height - 8 - 3 * count - bool(view.problem))
    rows = max(1, min(_TALLEST_CHART, (spare - max(2, spare // 3)) // count))
    return rows, max(2, min(12, spare - rows * count))


def _head(view: DemoView, width: int) -> list[Text]:
    clock = f"plant time {duration(view.plant_s)}   {view.speed:g}× real time"
    lines = [
        Text.assemble((f" {view.site}", "bold"), " ", (clock.rjust(width - len(view.site) - 3), "dim")),
        Text("━" * width, "dim"),
    ]
    return [*lines, Text(f" {view.problem}", "bold red")] if view.problem else lines


def _collector(view: DemoView, collector: CollectorView, width: int, rows: int) -> list[Text]:
    dp = collector.readings.get(Role.DP)
    title = Text.assemble(
        (f" {collector.name}", "bold"),
        f"  {demo_words.amount(Role.DP, dp):>12}  ",
        (demo_words.quality(dp), _style_of(dp)),
        ("  " + collector.description if dp is None or dp.quality is Quality.GOOD else "", "dim"),
    )
    state = Text(f"        {demo_words.companions(collector)}")
    return [title, state, *_chart(collector, width, rows), _alarms(view, collector.alarms)]


def _style_of(reading: Reading | None) -> str:
    return "dim" if reading is None else _QUALITY_STYLE[reading.quality]


def _chart(collector: CollectorView, width: int, rows: int) -> list[Text]:
    width -= _AXIS + 2
    # Too low a chart has no room for bands: it shows the shape of the last minutes, the alarms stand below it.
    setpoints = [band.setpoint_inh2o for band in collector.bands] if rows >= _ROWS_FOR_BANDS else []
    shown = collector.trend[-width:]
    scale = demo_chart.scale_of(shown, setpoints)
    drawn = demo_chart.draw(shown, setpoints, scale, width=width, height=rows)
    columns = ["cyan"] * (width - len(shown)) + [_column_style(value, collector.bands) for value in shown]
    lines = []
    for number, (line, setpoint) in enumerate(zip(drawn.lines, drawn.band_rows, strict=True)):
        label = _label(setpoint, scale, rows, number)
        lines.append(Text.assemble((f"{label:>{_AXIS}} ", "dim"), _coloured(line, columns)))
    return lines


def _column_style(value: float | None, bands: tuple[Band, ...]) -> str:
    """Return red for a value at or beyond a set point."""
    beyond = value is not None and any(
        value >= band.setpoint_inh2o if band.side is Side.ABOVE else value <= band.setpoint_inh2o for band in bands
    )
    return "red" if beyond else "cyan"


def _label(setpoint: float | None, scale: Scale, rows: int, number: int) -> str:
    """Return what stands at the axis: a set point, or where the scale ends."""
    if setpoint is not None:
        return f"{setpoint:g}"
    if rows > 1 and number in (0, rows - 1):
        return f"({scale.high if number == 0 else scale.low:.1f})"
    return ""


def _coloured(line: str, columns: list[str]) -> Text:
    marks = {demo_chart.BAND_LINE: "yellow dim", demo_chart.HOLE: "red"}
    styled = [(marks.get(mark, style), mark) for mark, style in zip(line, columns, strict=True)]
    text = Text()
    # In runs, for a style for each character makes a picture six times as many bytes.
    for style, run in groupby(styled, itemgetter(0)):
        text.append("".join(mark for _, mark in run), style)
    return text


def _alarms(view: DemoView, alarms: tuple[AlarmView, ...]) -> Text:
    told = [one for one in alarms if one.state is not AlarmState.NORMAL]
    if not told:
        quiet = ", ".join(one.tag for one in alarms)
        return Text(f"        {quiet}: normal" if quiet else "        no alarms set", "dim")
    line = Text("       ")
    for one in told:
        since = "" if one.since_utc_s is None else f" since {view.since_start(one.since_utc_s)}"
        style = "bold white on red" if one.state in ACTIVE else "bold yellow"
        line.append(" ").append(f"{demo_words.alarm(one)}{since}", style).append(" ")
    return line


def _events(view: DemoView, width: int, most: int) -> list[Text]:
    """Return the newest events, as many as fit; the newest stands last and is never left out."""
    lines: list[Text] = []
    for event in reversed(view.events):
        told = _event(view, event, width, 2 if most > 4 else 1)
        if len(lines) + len(told) > most:
            break
        lines = told + lines
    filled = [*lines, *[Text("")] * (most - len(lines))]
    return [Text("─" * width, "dim"), *filled]


def _event(view: DemoView, event: Event, width: int, most: int) -> list[Text]:
    stamp = view.since_start(event.at_utc_s)
    parts = textwrap.wrap(demo_words.happening(event), width - 11, max_lines=most, placeholder=" …") or [""]
    first, *rest = parts
    return [Text.assemble((f" {stamp:>8}  ", "dim"), first), *(Text(" " * 11 + part) for part in rest)]


def _places(view: DemoView, width: int) -> list[Text]:
    lines = [Text("─" * width, "dim")]
    for name, place in demo_words.places(view.addresses):
        lines.append(Text.assemble((f" {name:<7}", "bold"), place))
    lines[-1].append("   Ctrl+C ends", "dim")
    return lines


def _fitted(line: Text, width: int) -> Text:
    line.truncate(width, overflow="ellipsis")
    line.no_wrap = True
    return line
