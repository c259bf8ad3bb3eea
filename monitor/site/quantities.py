"""Quantities: a number with its unit, ``6 inH2O``, kept as written until the site's inch of water is known."""

import re
from dataclasses import dataclass
from math import isfinite
from typing import Any

from monitor.condition import units
from monitor.site.values import NUMBER, UnfitError, meant, number_note, text

_SPLIT = re.compile(rf"({NUMBER})\s*(.*)", re.ASCII | re.DOTALL)
_ARTICLE = {
    units.Kind.PRESSURE: "a pressure",
    units.Kind.FLOW: "a flow",
    units.Kind.VOLUME: "a volume",
    units.Kind.PERCENT: "a share",
}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number and its unit, in the spelling the house writes."""

    number: float
    unit: str

    def __str__(self) -> str:
        """Return it as the site file writes it."""
        return f"{self.number:g} {self.unit}"

    def to(self, unit: str, pa_per_inh2o: float) -> float:
        """Return the number of ``unit`` in it; both must be of one kind."""
        return self.number * units.factor(self.unit, unit, pa_per_inh2o)


def split(value: Any, wanted: str) -> tuple[float, str]:
    """Return the number and the unit (empty where there is none) of ``6 inH2O``."""
    plain = text(value, wanted)
    parts = _SPLIT.fullmatch(plain)
    if not parts or parts[2].startswith(","):
        raise UnfitError(wanted, number_note(plain))
    size = float(parts[1])
    if not isfinite(size):
        raise UnfitError(wanted, "too large")
    return size, parts[2]


def canonical(unit: str, kind: units.Kind, wanted: str) -> str:
    """Return the house's spelling of a unit, which must be of this kind."""
    if not unit:
        raise UnfitError(wanted, "it has no unit")
    try:
        found = units.canonical(unit)
    except ValueError as error:
        raise UnfitError(wanted, _complaint(error, unit, kind)) from None
    if units.kind_of(found) is not kind:
        raise UnfitError(wanted, f"{found} is a unit of {units.kind_of(found)}")
    return found


def quantity(value: Any, kind: units.Kind, example: str) -> Quantity:
    """Return a quantity of one kind."""
    wanted = f'must be {_ARTICLE[kind]} with its unit, such as "{example}"'
    size, unit = split(value, wanted)
    return Quantity(size, canonical(unit, kind, wanted))


def any_quantity(value: Any, example: str) -> Quantity:
    """Return a number with whatever unit; it is compared, never converted."""
    wanted = f'must be a number with its unit, such as "{example}"'
    size, unit = split(value, wanted)
    if not unit or len(unit) > 12 or not unit.isprintable():
        raise UnfitError(wanted, "" if unit else "it has no unit")
    return Quantity(size, unit)


def unit(value: Any, kind: units.Kind) -> str:
    """Return the name of a unit of one kind."""
    known = units.known_units(kind)
    wanted = f"must be a unit of {kind}: {', '.join(known)}"
    return canonical(text(value, wanted), kind, wanted)


def _complaint(error: ValueError, unit: str, kind: units.Kind) -> str:
    """Say why a unit is not known, naming only the units that would be right here."""
    sentence, is_unknown, _ = str(error).partition("; known are ")
    if not is_unknown:
        return sentence
    known = units.known_units(kind)
    return meant(unit, known) or f"known are {', '.join(known)}"
