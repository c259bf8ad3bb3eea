"""Chart SVG: the DP of one collector with its set points and alarms, and under it the life of each alarm.

One drawing for one width: text keeps its size, so a page shows a narrow drawing on a narrow screen. Several site
files share the curve; each has its own rows.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from monitor.judge.table import ACTIVE, HELD, WAITING
from monitor.report import chart_style
from monitor.report.chart_axis import time_ticks, value_ticks
from monitor.report.rehearsal import AlarmLine, CollectorStory, Rehearsal
from monitor.report.rehearsal_strip import for_drawing
from monitor.report.rehearsal_words import STATES, count, duration, setting, stamp
from monitor.words import AlarmState

_LEFT, _RIGHT, _TOP, _PLOT, _AXIS, _ROW, _HEAD = 40.0, 14.0, 34.0, 230.0, 26.0, 34.0, 24.0
#: How high a state stands in its row (of 12), so that it can be told without colour.
_HEIGHT = {"active": 12.0, "latched": 7.0, "returned": 4.0, "held": 7.0}


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where time and DP lie in the drawing."""

    width: float
    begins_utc_s: float
    ends_utc_s: float
    low: float
    high: float

    def x(self, utc_s: float) -> float:
        share = (utc_s - self.begins_utc_s) / max(1e-9, self.ends_utc_s - self.begins_utc_s)
        return _LEFT + (self.width - _LEFT - _RIGHT) * min(1.0, max(0.0, share))

    def y(self, dp_inh2o: float) -> float:
        return _TOP + _PLOT * (1 - (dp_inh2o - self.low) / (self.high - self.low))


def chart(rehearsals: Sequence[Rehearsal], collector: str, width: float) -> tuple[str, float]:
    """The drawing of one collector without its frame, and its height. ``width`` 320 or more."""
    stories = [(one, one.collectors[collector]) for one in rehearsals if collector in one.collectors]
    first, story = stories[0]
    frame = _frame(first, stories, width)
    parts = [_title(story, frame), *_plot(frame, story, stories), *_curve(frame, story), *_limits(frame, stories)]
    top = _TOP + _PLOT + _AXIS
    for rehearsal, one in stories:
        if len(stories) > 1:
            parts.append(_text(_LEFT, top + 16, rehearsal.file, "soft"))
            top += _HEAD
        for line in one.alarms:
            parts += _life(frame, one, line, top)
            top += _ROW
    return "".join(parts), top + 4


def legend(width: float, top: float) -> tuple[str, float]:
    """What the marks mean, and how high that is."""
    entries = [
        ("area", "DP, lowest to highest"),
        ("blind", "no DP to trust"),
        ("active", "active"),
        ("latched", "latched"),
        ("returned", "back, not answered"),
        ("held", "suppressed"),
    ]
    parts, x, y = [], _LEFT, top
    for name, words in entries:
        length = 28 + 6.4 * len(words)
        if x + length > width:
            x, y = _LEFT, y + 20
        height = _HEIGHT.get(name, 12.0)
        parts.append(_rect(x, y + 12 - height, 14, height, name))
        parts.append(_text(x + 20, y + 11, words, "soft"))
        x += length + 10
    return "".join(parts), y - top + 26


def svg(rehearsals: Sequence[Rehearsal], width: float = 1000.0) -> str:
    """All collectors in one file of its own, light or dark as whoever looks at it prefers."""
    parts, top = [], 0.0
    for name in dict.fromkeys(name for one in rehearsals for name in one.collectors):
        drawn, height = chart(rehearsals, name, width)
        parts.append(f'<g transform="translate(0 {top:.0f})">{drawn}</g>')
        top += height + 16
    told, height = legend(width, top)
    style = f"<style>{chart_style.sheet('svg')}</style>"
    paper = f'<rect width="{width:.0f}" height="{top + height:.0f}" style="fill:var(--card)"/>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="rh" viewBox="0 0 {width:.0f} {top + height:.0f}" '
        f'width="{width:.0f}" height="{top + height:.0f}" role="img">{style}{paper}{"".join(parts)}{told}</svg>\n'
    )


def _frame(first: Rehearsal, stories: Sequence[tuple[Rehearsal, CollectorStory]], width: float) -> _Frame:
    curve = stories[0][1].curve
    values = [one for one in (*curve.lowest, *curve.highest) if one is not None]
    values += [
        line.setpoint_inh2o for _, story in stories for line in story.alarms if line.setpoint_inh2o is not None
    ]
    high, low = max(values, default=1.0), min(0.0, *values, 0.0)
    return _Frame(
        width, first.begins_utc_s, max(first.ends_utc_s, first.begins_utc_s + 1), low, high * 1.08 or 1.0
    )


def _title(story: CollectorStory, frame: _Frame) -> str:
    words = story.name + (f" · {story.description}" if story.description else "")
    drawn = _text(2, 16, words, "tag")
    right = f"DP, inH2O · {count(len(story.raisings), 'alarm')}"
    return drawn + _text(frame.width - _RIGHT, 16, right if frame.width > 600 else "inH2O", "soft", "end")


def _plot(
    frame: _Frame, story: CollectorStory, stories: Sequence[tuple[Rehearsal, CollectorStory]]
) -> Iterator[str]:
    for value in value_ticks(frame.low, frame.high, 6):
        y = frame.y(value)
        yield _line(_LEFT, y, frame.width - _RIGHT, y, "rule")
        yield _text(_LEFT - 6, y + 4, f"{value:g}", "soft num", "end")
    for at_s, words in time_ticks(frame.begins_utc_s, frame.ends_utc_s, int((frame.width - 60) / 60)):
        x = frame.x(at_s)
        yield _line(x, _TOP + _PLOT, x, _TOP + _PLOT + 4, "rule")
        if _LEFT - 4 < x < frame.width - 24:
            yield _text(x, _TOP + _PLOT + 18, words, "soft num", "middle")
    for x, to_x in _active(frame, story, stories[0][0].ends_utc_s):
        yield _rect(x, _TOP, max(1.0, to_x - x), _PLOT, "wash")


def _active(frame: _Frame, story: CollectorStory, ends_utc_s: float) -> list[tuple[float, float]]:
    """From where to where across some alarm was active; what a dot cannot part is one."""
    joined: list[tuple[float, float]] = []
    for one in story.raisings:
        x = frame.x(one.raised_utc_s)
        to_x = frame.x(ends_utc_s if one.back_utc_s is None else one.back_utc_s)
        if joined and x <= joined[-1][1] + 1.0:
            joined[-1] = (joined[-1][0], max(joined[-1][1], to_x))
        else:
            joined.append((x, to_x))
    return joined


def _curve(frame: _Frame, story: CollectorStory) -> Iterator[str]:
    """Where nothing could be trusted, and the DP between its lowest and highest, dot by dot."""
    dots = max(2, int(frame.width - _LEFT - _RIGHT))
    wanted = max(1, min(dots, round((frame.ends_utc_s - frame.begins_utc_s) / story.curve.width_s)))
    seen = story.curve.resampled(frame.begins_utc_s, frame.ends_utc_s, wanted)
    middle = [frame.begins_utc_s + (number + 0.5) * seen.width_s for number in range(wanted)]
    for first, end in _runs([blind > 0.5 for blind in seen.blind]):
        x = frame.x(middle[first] - seen.width_s / 2)
        yield _rect(x, _TOP, max(1.0, frame.x(middle[end - 1] + seen.width_s / 2) - x), _PLOT, "blind")
    for first, end in _runs([low is not None for low in seen.lowest]):
        over = [(middle[at], seen.highest[at]) for at in range(first, end)]
        under = [(middle[at], seen.lowest[at]) for at in reversed(range(first, end))]
        dots_of = [
            f"{frame.x(at_s):.1f} {frame.y(value):.1f}" for at_s, value in over + under if value is not None
        ]
        yield f'<path class="area" d="M{"L".join(dots_of)}Z"/>'


def _runs(flags: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """Where neighbours are set: the first, and the one after the last."""
    first = None
    for at, is_set in enumerate([*flags, False]):
        if is_set and first is None:
            first = at
        elif not is_set and first is not None:
            yield first, at
            first = None


def _limits(frame: _Frame, stories: Sequence[tuple[Rehearsal, CollectorStory]]) -> Iterator[str]:
    """The set points; those of another site file dotted, and only where they differ."""
    drawn: set[tuple[str, float]] = set()
    for number, (_, story) in enumerate(stories):
        for line in story.alarms:
            if line.setpoint_inh2o is None or (line.tag, line.setpoint_inh2o) in drawn:
                continue
            drawn.add((line.tag, line.setpoint_inh2o))
            y = frame.y(line.setpoint_inh2o)
            yield _line(_LEFT, y, frame.width - _RIGHT, y, "limit other" if number else "limit")
            label = f"{line.tag} {line.setpoint_inh2o:g}"
            # The other file's stand at the left, so that two near ones do not cover one another.
            at = (_LEFT + 4, "start") if number else (frame.width - _RIGHT - 4, "end")
            yield _text(at[0], y - 4, label, "limit num", at[1])


def _life(frame: _Frame, story: CollectorStory, line: AlarmLine, top: float) -> Iterator[str]:
    """One alarm: its name and how often it was raised above, its states below."""
    times = len(story.raisings_of(line.tag))
    words = f'<tspan class="tag">{escape(line.tag)}</tspan>'
    if frame.width > 600:
        words += f'<tspan class="soft" dx="8">{escape(setting(line))}</tspan>'
    yield f'<text x="{_LEFT:.1f}" y="{top + 12:.1f}">{words}</text>'
    yield _text(frame.width - _RIGHT, top + 12, f"{times:,} ×" if times else "never", "soft num", "end")
    floor = top + 28
    yield _rect(_LEFT, floor - 2, frame.width - _LEFT - _RIGHT, 2, "quiet")
    stretches = for_drawing(line.changes, frame.begins_utc_s, frame.ends_utc_s, int(frame.width))
    for state, from_s, until_s in stretches:
        name = _class(state)
        x, height = frame.x(from_s), _HEIGHT[name]
        title = f"{line.tag} {STATES[state]} {stamp(from_s)} for {duration(until_s - from_s)}"
        yield _rect(x, floor - height, max(1.5, frame.x(until_s) - x), height, name, title)


def _class(state: AlarmState) -> str:
    if state in ACTIVE:
        return "active"
    if state in HELD:
        return "held"
    return "returned" if state is AlarmState.RETURNED_UNACKNOWLEDGED or state not in WAITING else "latched"


def _rect(x: float, y: float, width: float, height: float, name: str, title: str = "") -> str:
    end = f"><title>{escape(title)}</title></rect>" if title else "/>"
    return f'<rect class="{name}" x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"{end}'


def _line(x: float, y: float, to_x: float, to_y: float, name: str) -> str:
    return f'<line class="{name}" x1="{x:.1f}" y1="{y:.1f}" x2="{to_x:.1f}" y2="{to_y:.1f}"/>'


def _text(x: float, y: float, words: str, name: str = "", anchor: str = "start") -> str:
    at = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return f'<text class="{name}" x="{x:.1f}" y="{y:.1f}"{at}>{escape(words)}</text>'
