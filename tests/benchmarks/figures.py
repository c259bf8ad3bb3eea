"""Figures: what was measured, beside the bar it should meet, as lines that a person reads."""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One measured figure.

    Attributes:
        bar: what it should be; None for a figure that is given for information.
        most: the bar is a ceiling (a floor otherwise).
        note: spread, conditions, or why it falls short.
    """

    what: str
    value: float
    unit: str
    bar: float | None = None
    most: bool = True
    note: str = ""

    @property
    def is_met(self) -> bool:
        """Whether the bar is met; a figure without one is."""
        return self.bar is None or (self.value <= self.bar if self.most else self.value >= self.bar)

    def line(self) -> str:
        """The figure as one line."""
        verdict = ""
        if self.bar is not None:
            sign = "≤" if self.most else "≥"
            verdict = f"bar {sign} {_number(self.bar)}: " + ("met" if self.is_met else "FALLS SHORT")
        return f"  {self.what:<58}{_number(self.value):>9} {self.unit:<11}{verdict:<26}{self.note}".rstrip()


def _number(value: float) -> str:
    if abs(value) >= 100:
        return f"{value:,.0f}"
    return f"{value:.3g}" if abs(value) < 10 else f"{value:.1f}"


def spread(values: Sequence[float]) -> str:
    """How far rounds lie apart."""
    return f"{_number(min(values))}–{_number(max(values))}, {len(values)} rounds"


def percentile(values: Sequence[float], share: float) -> float:
    """The smallest value that at least this share (0 to 1) of the values do not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, max(0, -(-int(share * 1e6) * len(ordered) // 10**6) - 1))]


def median(values: Sequence[float]) -> float:
    """The median."""
    return statistics.median(values)
