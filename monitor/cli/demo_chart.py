"""Demo chart: a DP trend in a few lines of text, with the bands drawn across it. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

_EIGHTHS = " ▁▂▃▄▅▆▇█"
BAND_LINE = "┄"
HOLE = "·"


@dataclass(frozen=True, slots=True)
class Scale:
    """What the chart spans from its ground to its top, inH2O."""

    low: float
    high: float

    def share(self, value: float) -> float:
        """Return where a value lies between ground (0) and top (1)."""
        return (value - self.low) / (self.high - self.low)


@dataclass(frozen=True, slots=True)
class Chart:
    """Lines from the top down; ``band_rows`` has for each line the set point that runs through it, or None."""

    lines: tuple[str, ...]
    band_rows: tuple[float | None, ...]


def scale_of(values: Sequence[float | None], setpoints: Sequence[float]) -> Scale:
    """Return a scale that holds every value and set point with a little room, 1.5 inH2O wide at least."""
    held = [*(value for value in values if value is not None), *setpoints]
    if not held:
        return Scale(0.0, 1.5)
    low, high = min(held), max(held)
    room = max(0.1 * (high - low), (1.5 - (high - low)) / 2.0)
    return Scale(max(0.0, low - room), high + room)


def draw(
    values: Sequence[float | None], setpoints: Sequence[float], scale: Scale, *, width: int, height: int
) -> Chart:
    """Draw the last ``width`` values as columns on the scale, ``height`` lines high.

    A value that is missing leaves a dot on the ground: no column is not a DP of zero.
    """
    shown = list(values)[-width:]
    rows = _rows_of(setpoints, scale, height)
    lines = []
    for row in reversed(range(height)):
        empty = " " if rows[row] is None else BAND_LINE
        marks = [_mark(value, row, scale, height, empty) for value in shown]
        lines.append(empty * (width - len(shown)) + "".join(marks))
    return Chart(tuple(lines), tuple(reversed(rows)))


def sparkline(values: Sequence[float | None], *, width: int) -> str:
    """Draw the last ``width`` values on one line, on their own scale."""
    shown = values[-width:]
    return draw(shown, (), scale_of(shown, ()), width=width, height=1).lines[0]


def _rows_of(setpoints: Sequence[float], scale: Scale, height: int) -> list[float | None]:
    rows: list[float | None] = [None] * height
    for setpoint in setpoints:
        row = int(scale.share(setpoint) * height)
        if 0 <= row < height:
            rows[row] = setpoint
    return rows


def _mark(value: float | None, row: int, scale: Scale, height: int, empty: str) -> str:
    if value is None:
        return HOLE if row == 0 else empty
    # At least one eighth on the ground, so that the lowest value is seen to be there.
    eighths = max(1 if row == 0 else 0, round(scale.share(value) * height * 8) - row * 8)
    return _EIGHTHS[min(eighths, 8)] if eighths > 0 else empty
