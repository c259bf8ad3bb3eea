"""Page chart: the averages of a period as steps, the range of the permit, and what is missing.

Each average is a level line over its block; one outside of the range is filled up to the bound, so that it can be
told without colour. Grey from top to bottom: not valid; a low grey band: not operating; nothing: not in the
history.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta, tzinfo
from html import escape

from monitor.judge.performance.span import Span
from monitor.report.chart_axis import value_ticks
from monitor.report.permit.averages import Average, AverageState
from monitor.report.permit.local_days import grouped, local, midnight
from monitor.report.permit.settings import PermitSettings

_LEFT, _RIGHT, _TOP, _PLOT, _AXIS = 40.0, 14.0, 14.0, 190.0, 26.0
_LOW_BAND = 7.0


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where time and DP lie in the drawing."""

    width: float
    span: Span
    low: float
    high: float

    def x(self, utc_s: float) -> float:
        return _LEFT + (self.width - _LEFT - _RIGHT) * (utc_s - self.span.start_utc_s) / self.span.length_s

    def y(self, dp_inh2o: float) -> float:
        return _TOP + _PLOT * (1 - (dp_inh2o - self.low) / (self.high - self.low))


def chart(averages: Sequence[Average], settings: PermitSettings, zone: tzinfo, width: float, where: str) -> str:
    """One drawing of blocks that follow one another, one or more; ``where`` is its class on the page."""
    frame = _frame(averages, settings, width)
    parts = [
        *_missing(frame, averages),
        *_axes(frame, zone),
        *_outside(frame, averages, settings),
        *_means(frame, averages),
        *_bounds(frame, settings),
    ]
    height = _TOP + _PLOT + _AXIS
    label = "averages of the DP in inH2O, with the range of the permit"
    return (
        f'<svg class="rh {where}" viewBox="0 0 {width:.0f} {height:.0f}" role="img" aria-label="{label}">'
        f"{''.join(parts)}</svg>"
    )


def _frame(averages: Sequence[Average], settings: PermitSettings, width: float) -> _Frame:
    values = [one.mean_inh2o for one in averages if one.mean_inh2o is not None]
    values += [one for one in (settings.low_inh2o, settings.high_inh2o) if one is not None]
    low, high = min(0.0, *values, 0.0), max(values, default=1.0)
    span = Span(averages[0].start_utc_s, averages[-1].end_utc_s)
    return _Frame(width, span, low, max(high * 1.1, low + 0.1))


def _axes(frame: _Frame, zone: tzinfo) -> Iterator[str]:
    for value in value_ticks(frame.low, frame.high, 6):
        y = frame.y(value)
        yield f'<line class="rule" x1="{_LEFT}" y1="{y:.1f}" x2="{frame.width - _RIGHT:.1f}" y2="{y:.1f}"/>'
        yield _text(_LEFT - 6, y + 4, f"{value:g}", "soft num", "end")
    floor = _TOP + _PLOT
    for utc_s, words in _days(frame, zone):
        x = frame.x(utc_s)
        yield f'<line class="rule" x1="{x:.1f}" y1="{floor}" x2="{x:.1f}" y2="{floor + 4}"/>'
        if x < frame.width - 30:
            yield _text(x, floor + 18, words, "soft num", "middle")


def _days(frame: _Frame, zone: tzinfo) -> Iterator[tuple[float, str]]:
    """Local midnights, or hours of a short period, as many as there is room for."""
    days = frame.span.length_s / 86400.0
    room = max(2, int((frame.width - 60) / 58))
    if days <= 2:
        yield from _clock_hours(frame, zone, room)
        return
    step = next((one for one in (1, 2, 4, 7, 14, 28, 56, 91, 182) if days / one <= room), 364)
    day = local(frame.span.start_utc_s, zone).date()
    while (utc_s := midnight(day, zone)) < frame.span.end_utc_s:
        if utc_s >= frame.span.start_utc_s:
            yield utc_s, f"{day.day} {day:%b}"
        day += timedelta(days=step)


def _clock_hours(frame: _Frame, zone: tzinfo, room: int) -> Iterator[tuple[float, str]]:
    step = next((one for one in (1, 2, 3, 6, 12) if frame.span.length_s / 3600 / one <= room), 24)
    for number in range(int(frame.span.length_s // 3600)):
        begin = local(frame.span.start_utc_s + number * 3600, zone)
        if begin.hour % step == 0:
            yield frame.span.start_utc_s + number * 3600, f"{begin:%H:%M}"


def _missing(frame: _Frame, averages: Sequence[Average]) -> Iterator[str]:
    for state, some in grouped(averages, lambda one: one.state):
        x, to_x = frame.x(some[0].start_utc_s), frame.x(some[-1].end_utc_s)
        if state is AverageState.INVALID:
            yield _rect(x, _TOP, to_x - x, _PLOT, "blind", "not valid")
        elif state is AverageState.NOT_OPERATING:
            yield _rect(x, _TOP + _PLOT - _LOW_BAND, to_x - x, _LOW_BAND, "blind", "not operating")


def _outside(frame: _Frame, averages: Sequence[Average], settings: PermitSettings) -> Iterator[str]:
    for one in averages:
        if one.beyond is None or one.mean_inh2o is None:
            continue
        is_above = settings.high_inh2o is not None and one.mean_inh2o > settings.high_inh2o
        bound = settings.high_inh2o if is_above else settings.low_inh2o
        x, to_x = frame.x(one.start_utc_s), frame.x(one.end_utc_s)
        y, bound_y = frame.y(one.mean_inh2o), frame.y(bound or 0.0)
        yield _rect(x, min(y, bound_y), to_x - x, max(1.0, abs(bound_y - y)), "over", "excursion")
        yield _rect(x, 3.0, max(4.0, to_x - x), 6.0, "over", "excursion")


def _means(frame: _Frame, averages: Sequence[Average]) -> Iterator[str]:
    """Neighbouring averages are one line; a gap ends it."""
    for is_drawn, some in grouped(averages, lambda one: one.state is AverageState.VALID):
        if not is_drawn:
            continue
        points = [
            f"{frame.x(at):.1f} {frame.y(one.mean_inh2o):.1f}"
            for one in some
            if one.mean_inh2o is not None
            for at in (one.start_utc_s, one.end_utc_s)
        ]
        yield f'<path class="mean" d="M{"L".join(points)}"/>'


def _bounds(frame: _Frame, settings: PermitSettings) -> Iterator[str]:
    for value, word in ((settings.high_inh2o, "high"), (settings.low_inh2o, "low")):
        if value is not None:
            y = frame.y(value)
            yield f'<line class="limit" x1="{_LEFT}" y1="{y:.1f}" x2="{frame.width - _RIGHT:.1f}" y2="{y:.1f}"/>'
            yield _text(frame.width - _RIGHT - 4, y - 4, f"{word} {value:g}", "limit num", "end")


def _rect(x: float, y: float, width: float, height: float, name: str, title: str) -> str:
    return (
        f'<rect class="{name}" x="{x:.1f}" y="{y:.1f}" width="{max(1.0, width):.1f}" height="{height:.1f}">'
        f"<title>{escape(title)}</title></rect>"
    )


def _text(x: float, y: float, words: str, name: str, anchor: str) -> str:
    return f'<text class="{name}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}</text>'
