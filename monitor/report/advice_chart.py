"""Advice chart: the DP now and as it would go, one above the other, with set points and bands, for some hours.

Both parts have the same scale, so that what moves is seen to move. What was recorded stands behind the first in
grey: where the replay leaves it, it is not to be believed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from monitor.interpret.advice.advising import Advice, Outcome
from monitor.interpret.advice.bands import BandSetting
from monitor.interpret.advice.sawtooth import Bend
from monitor.report.advice import AdviceStory
from monitor.report.chart_axis import time_ticks, value_ticks

_LEFT, _RIGHT, _HEAD, _PLOT, _AXIS = 40.0, 14.0, 26.0, 190.0, 28.0
#: So many cycles are shown: enough to see the rhythm, few enough to see the teeth.
_CYCLES = 12
#: Readings further apart are not joined by a line, seconds.
_HOLE_S = 150.0

#: Beside those of ``chart_style``.
STYLE = """
.rh .saw{fill:none;stroke:var(--dp);stroke-width:1.6;stroke-linejoin:round}
.rh .was{fill:none;stroke:var(--held);stroke-width:2.4;stroke-linejoin:round;opacity:.75}
.rh .between{fill:var(--area)}
.rh .edge{stroke:var(--dp);stroke-width:1;stroke-dasharray:2 3}
.rh text.edge{fill:var(--dp);stroke:var(--card);stroke-width:3;stroke-dasharray:none;paint-order:stroke;
font-size:11px}
"""


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where time and DP lie."""

    width: float
    top: float
    begins_utc_s: float
    ends_utc_s: float
    low: float
    high: float

    def x(self, utc_s: float) -> float:
        share = (utc_s - self.begins_utc_s) / max(1e-9, self.ends_utc_s - self.begins_utc_s)
        return _LEFT + (self.width - _LEFT - _RIGHT) * min(1.0, max(0.0, share))

    def y(self, dp_inh2o: float) -> float:
        share = (dp_inh2o - self.low) / (self.high - self.low)
        return self.top + _PLOT * (1 - min(1.0, max(0.0, share)))


def chart(story: AdviceStory, advice: Advice, width: float) -> tuple[str, float]:
    """The drawing without its frame, and its height; ``width`` 320 or more."""
    begins, ends = window(advice)
    low, high = _scale(advice)
    parts, top = [], 0.0
    sides = (
        ("now", advice.now, advice.now_path, [band.now for band in advice.bands], story.was),
        ("as advised", advice.then, advice.then_path, [band.advised for band in advice.bands], ()),
    )
    for title, outcome, path, bands, was in sides:
        frame = _Frame(width, top + _HEAD, begins, ends, low, high)
        parts += [*_panel(frame, title, outcome, path, bands, was)]
        top = frame.top + _PLOT + _AXIS
    return "".join(parts), top


def window(advice: Advice) -> tuple[float, float]:
    """From when to when is drawn: the first dozen cycles that follow one another, or the longest run there is."""
    best: tuple[float, float] = (0.0, 0.0)
    most = begun = 0
    drives = advice.habits.drives
    for number, drive in enumerate(drives):
        if number and abs(drive.begin_utc_s - drives[number - 1].end_utc_s) > 1.0:
            begun = number
        if number - begun + 1 > most:
            most, best = number - begun + 1, (drives[begun].begin_utc_s, drive.end_utc_s)
        if most >= _CYCLES:
            break
    return best


def _scale(advice: Advice) -> tuple[float, float]:
    values = [advice.now.highest_inh2o, advice.then.highest_inh2o]
    values += [one.setpoint_inh2o for band in advice.bands for one in (band.now, band.advised)]
    values += [advice.now.stop_inh2o, advice.then.stop_inh2o]
    low = max(0.0, min(values) - 0.5)
    return low, max(values) + 0.4


def _panel(
    frame: _Frame,
    title: str,
    outcome: Outcome,
    path: Sequence[Bend],
    bands: Sequence[BandSetting],
    was: Sequence[tuple[float, float]],
) -> Iterator[str]:
    points = f"{outcome.start_inh2o:g} to {outcome.stop_inh2o:g} inH2O"
    yield f'<text x="2" y="{frame.top - 10:.1f}"><tspan class="tag">{escape(title)}</tspan>'
    yield f'<tspan class="soft" dx="8">cleaning {escape(points)}</tspan></text>'
    yield from _axes(frame)
    top, bottom = frame.y(outcome.start_inh2o), frame.y(outcome.stop_inh2o)
    inner = frame.width - _LEFT - _RIGHT
    yield f'<rect class="between" x="{_LEFT}" y="{top:.1f}" width="{inner:.1f}" height="{bottom - top:.1f}"/>'
    yield _recorded(frame, was)
    yield _saw(frame, path)
    yield _edge(frame, top, -4.0, f"start {outcome.start_inh2o:g}")
    yield _edge(frame, bottom, 12.0, f"stop {outcome.stop_inh2o:g}")
    for band in bands:
        yield _band(frame, band)


def _axes(frame: _Frame) -> Iterator[str]:
    right = frame.width - _RIGHT
    for value in value_ticks(frame.low, frame.high, 5):
        y = frame.y(value)
        yield f'<line class="rule" x1="{_LEFT}" y1="{y:.1f}" x2="{right:.1f}" y2="{y:.1f}"/>'
        yield f'<text class="soft num" x="{_LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{value:g}</text>'
    for at_s, words in time_ticks(frame.begins_utc_s, frame.ends_utc_s, int((frame.width - 60) / 70)):
        x = frame.x(at_s)
        if _LEFT - 4 < x < frame.width - 24:
            y = frame.top + _PLOT
            yield f'<line class="rule" x1="{x:.1f}" y1="{y:.1f}" x2="{x:.1f}" y2="{y + 4:.1f}"/>'
            yield f'<text class="soft num" x="{x:.1f}" y="{y + 18:.1f}" text-anchor="middle">{words}</text>'


def _recorded(frame: _Frame, was: Sequence[tuple[float, float]]) -> str:
    """The DP as it was recorded; a hole in it is a hole in the line."""
    marks: list[str] = []
    before_s = float("-inf")
    for utc_s, dp_inh2o in was:
        letter = "L" if utc_s - before_s < _HOLE_S else "M"
        marks.append(f"{letter}{frame.x(utc_s):.1f} {frame.y(dp_inh2o):.1f}")
        before_s = utc_s
    return f'<path class="was" d="{"".join(marks)}"/>' if marks else ""


def _saw(frame: _Frame, path: Sequence[Bend]) -> str:
    """The line of the replay within the frame."""
    marks: list[str] = []
    for number, bend in enumerate(path):
        after = path[number + 1].utc_s if number + 1 < len(path) else bend.utc_s
        if after < frame.begins_utc_s:
            continue
        if bend.utc_s > frame.ends_utc_s:
            break
        letter = "M" if bend.begins or not marks else "L"
        marks.append(f"{letter}{frame.x(bend.utc_s):.1f} {frame.y(bend.dp_inh2o):.1f}")
    return f'<path class="saw" d="{"".join(marks)}"/>'


def _edge(frame: _Frame, y: float, below: float, words: str) -> str:
    right = frame.width - _RIGHT
    at = f'x="{_LEFT + 4}" y="{y + below:.1f}"'
    label = "" if frame.width < 600 else f'<text class="edge num" {at}>{words}</text>'
    return f'<line class="edge" x1="{_LEFT}" y1="{y:.1f}" x2="{right:.1f}" y2="{y:.1f}"/>{label}'


def _band(frame: _Frame, band: BandSetting) -> str:
    y, right = frame.y(band.setpoint_inh2o), frame.width - _RIGHT
    words = escape(f"{band.tag} {band.setpoint_inh2o:g}")
    return (
        f'<line class="limit" x1="{_LEFT}" y1="{y:.1f}" x2="{right:.1f}" y2="{y:.1f}"/>'
        f'<text class="limit num" x="{right - 4:.1f}" y="{y - 4:.1f}" text-anchor="end">{words}</text>'
    )
