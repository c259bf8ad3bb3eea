"""Conditions: the few forms in which a clue asks about the symptoms, as data that can be read and printed.

What is not known (no header pressure measured, no usual value yet) meets no condition, neither one that would
speak for a trouble nor its opposite: a missing companion makes the answer less sure and never tips it.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.words import Reason


class Figures(NamedTuple):
    """What was measured where a condition is met; all empty where it is a plain yes."""

    value: float | None = None
    usual: float | None = None
    unit: str = ""


class Condition(Protocol):
    """A question that symptoms answer with figures, or with None: it is not so, or not known."""

    def find(self, symptoms: Symptoms) -> Figures | None:
        """Answer it."""
        ...

    def text(self) -> str:
        """Say it in words."""
        ...


@dataclass(frozen=True, slots=True)
class Why:
    """The reading is not good for one of these reasons."""

    reasons: tuple[Reason, ...]

    def find(self, symptoms: Symptoms) -> Figures | None:
        """Answer it."""
        return Figures() if symptoms.reason in self.reasons else None

    def text(self) -> str:
        """Say it in words."""
        return "reason is " + " or ".join(reason.value for reason in self.reasons)


@dataclass(frozen=True, slots=True)
class Is:
    """A yes or no of that name is just so."""

    name: str
    wanted: bool = True

    def find(self, symptoms: Symptoms) -> Figures | None:
        """Answer it."""
        return Figures() if getattr(symptoms, self.name) is self.wanted else None

    def text(self) -> str:
        """Say it in words."""
        return f"{self.name} is {'yes' if self.wanted else 'no'}"


@dataclass(frozen=True, slots=True)
class Amount:
    """A figure of that name lies from ``least`` on and below ``under``; its size alone where ``size`` is set."""

    name: str
    least: float = -math.inf
    under: float = math.inf
    unit: str = ""
    size: bool = False

    def find(self, symptoms: Symptoms) -> Figures | None:
        """Answer it."""
        value = getattr(symptoms, self.name)
        if value is None or not self.least <= (abs(value) if self.size else value) < self.under:
            return None
        return Figures(value, None, self.unit)

    def text(self) -> str:
        """Say it in words."""
        name = f"size of {self.name}" if self.size else self.name
        return f"{name} {_limits(self.least, self.under, self.unit)}"


@dataclass(frozen=True, slots=True)
class Beside:
    """A figure, beside the usual one, lies from the share ``least`` of it on and below the share ``under``."""

    name: str
    usual: str
    least: float = -math.inf
    under: float = math.inf
    unit: str = ""

    def find(self, symptoms: Symptoms) -> Figures | None:
        """Answer it."""
        value, usual = getattr(symptoms, self.name), getattr(symptoms, self.usual)
        if value is None or usual is None or usual <= 0.0 or not self.least <= value / usual < self.under:
            return None
        return Figures(value, usual, self.unit)

    def text(self) -> str:
        """Say it in words."""
        return f"{self.name} {_limits(self.least, self.under, '')} × {self.usual}"


@dataclass(frozen=True, slots=True)
class Apart:
    """A figure lies above the usual one by ``least`` or more and by less than ``under`` (negative: below it)."""

    name: str
    usual: str
    least: float = -math.inf
    under: float = math.inf
    unit: str = ""

    def find(self, symptoms: Symptoms) -> Figures | None:
        """Answer it."""
        value, usual = getattr(symptoms, self.name), getattr(symptoms, self.usual)
        if value is None or usual is None or not self.least <= value - usual < self.under:
            return None
        return Figures(value, usual, self.unit)

    def text(self) -> str:
        """Say it in words."""
        return f"{self.name} − {self.usual} {_limits(self.least, self.under, self.unit)}"


@dataclass(frozen=True, slots=True)
class All:
    """Every one of these is met; the figures are those of the first."""

    parts: tuple[Condition, ...]

    def find(self, symptoms: Symptoms) -> Figures | None:
        """Answer it."""
        found = [part.find(symptoms) for part in self.parts]
        return None if None in found else found[0]

    def text(self) -> str:
        """Say it in words."""
        return " and ".join(part.text() for part in self.parts)


@dataclass(frozen=True, slots=True)
class Either:
    """One of these is met at least; the figures are those of the first that is."""

    parts: tuple[Condition, ...]

    def find(self, symptoms: Symptoms) -> Figures | None:
        """Answer it."""
        return next((found for part in self.parts if (found := part.find(symptoms)) is not None), None)

    def text(self) -> str:
        """Say it in words."""
        return " or ".join(part.text() for part in self.parts)


@dataclass(frozen=True, slots=True)
class Unless:
    """This is not met: it is not so, or nobody knows."""

    part: Condition

    def find(self, symptoms: Symptoms) -> Figures | None:
        """Answer it."""
        return Figures() if self.part.find(symptoms) is None else None

    def text(self) -> str:
        """Say it in words."""
        return f"unless {self.part.text()}"


@dataclass(frozen=True, slots=True)
class Named:
    """A question that has no simpler form, by a function and in words."""

    answer: Callable[[Symptoms], Figures | None]
    words: str

    def find(self, symptoms: Symptoms) -> Figures | None:
        """Answer it."""
        return self.answer(symptoms)

    def text(self) -> str:
        """Say it in words."""
        return self.words


def _limits(least: float, under: float, unit: str) -> str:
    after = f" {unit}" if unit else ""
    if under == math.inf:
        return f"at least {least:g}{after}"
    return f"below {under:g}{after}" if least == -math.inf else f"from {least:g} to {under:g}{after}"
