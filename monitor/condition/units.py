"""Units: what may stand behind a number in the site file, and the exact factor between two of them.

An inch of water is four different pressures, up to 0.2 % apart, by the temperature of the water. A site says
once which one it means by plain ``inH2O``; a name that carries its temperature always means that one. Factors
are exact by definition, or the published ones of NIST SP 811 App. B.8 where a material is involved.

Spelling is forgiven where only one unit can be meant (``in. w.c.``, ``PSI``, ``m³/h``) and nowhere else:
``w.g.`` could be inches or millimetres, ``MA`` would be megaamperes, ``scfm`` needs its reference conditions.
"""

import unicodedata
from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType


class Kind(StrEnum):
    """What a unit measures; only units of one kind convert into each other."""

    PRESSURE = "pressure"
    FLOW = "flow"
    DURATION = "duration"
    CURRENT = "current"
    PERCENT = "percent"
    VOLUME = "volume"


#: Pascals in one inch of water. Conventional: 0.0254 m × 1000 kg/m³ × 9.80665 m/s², exact. 4 degC (39.2 degF)
#: and 60 degF: NIST SP 811 App. B.8. 68 degF (20 degC): the same product with water of 998.2071 kg/m³.
PA_PER_INCH_OF_WATER: Mapping[str, float] = MappingProxyType(
    {"conventional": 249.08891, "4 degC": 249.082, "60 degF": 248.84, "68 degF": 248.642}
)

_SITE_INCH = "inH2O"
_FOOT_M = 0.3048
_PSI_PA = 0.45359237 * 9.80665 / 0.0254**2

#: For each unit how many of the first of its kind it is. The site's own inch is not here: it is passed in.
_TABLE: Mapping[Kind, Mapping[str, float]] = {
    Kind.PRESSURE: {
        "Pa": 1.0,
        "hPa": 100.0,
        "kPa": 1000.0,
        "MPa": 1e6,
        "mbar": 100.0,
        "bar": 1e5,
        "psi": _PSI_PA,
        "mmH2O": 9.80665,  # conventional
        "cmH2O": 98.0665,  # conventional
        "inH2O_conventional": PA_PER_INCH_OF_WATER["conventional"],
        "inH2O_4C": PA_PER_INCH_OF_WATER["4 degC"],
        "inH2O_60F": PA_PER_INCH_OF_WATER["60 degF"],
        "inH2O_68F": PA_PER_INCH_OF_WATER["68 degF"],
        "inHg": 3386.389,  # conventional, NIST SP 811 App. B.8
    },
    Kind.FLOW: {
        "m3/s": 1.0,
        "m3/min": 1.0 / 60.0,
        "m3/h": 1.0 / 3600.0,
        "L/s": 1e-3,
        "L/min": 1e-3 / 60.0,
        "cfm": _FOOT_M**3 / 60.0,
        "ft3/s": _FOOT_M**3,
    },
    Kind.DURATION: {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0, "d": 86400.0},
    Kind.CURRENT: {"A": 1.0, "mA": 1e-3},
    Kind.PERCENT: {"%": 1.0},
    Kind.VOLUME: {"m3": 1.0, "L": 1e-3, "ft3": _FOOT_M**3},
}

#: Other spellings, already folded (see ``_folded``).
_ALIASES: Mapping[str, str] = {
    **dict.fromkeys(("inwc", "inwg", "iwc", "iwg", "inaq", "incheswc", "incheswg", "inchesh2o"), _SITE_INCH),
    **dict.fromkeys(("inchofwater", "inchesofwater", "inchwater", "incheswater"), _SITE_INCH),
    **dict.fromkeys(("inh2o392f", "inwc4c", "inwc392f"), "inH2O_4C"),
    **dict.fromkeys(("inh2o20c", "inwc68f", "inwc20c"), "inH2O_68F"),
    "inwc60f": "inH2O_60F",
    **dict.fromkeys(("mmwc", "mmwg", "mmaq"), "mmH2O"),
    **dict.fromkeys(("cmwc", "cmwg", "cmaq"), "cmH2O"),
    **dict.fromkeys(("lbf/in2", "lb/in2", "psig"), "psi"),
    **dict.fromkeys(("pascal", "pascals"), "Pa"),
    "millibar": "mbar",
    **dict.fromkeys(("acfm", "ft3/min", "cuft/min", "ft3pm"), "cfm"),
    **dict.fromkeys(("m3/hr", "m3h", "cmh", "am3/h"), "m3/h"),
    **dict.fromkeys(("sec", "second", "seconds"), "s"),
    **dict.fromkeys(("msec", "millisecond", "milliseconds"), "ms"),
    **dict.fromkeys(("mins", "minute", "minutes"), "min"),
    **dict.fromkeys(("hr", "hrs", "hour", "hours"), "h"),
    **dict.fromkeys(("day", "days"), "d"),
    **dict.fromkeys(("amp", "amps", "ampere", "amperes"), "A"),
    **dict.fromkeys(("milliamp", "milliamps"), "mA"),
    **dict.fromkeys(("cuft", "cubicfoot", "cubicfeet"), "ft3"),
    **dict.fromkeys(("liter", "litre", "liters", "litres"), "L"),
    **dict.fromkeys(("percent", "pct"), "%"),
}

_AMBIGUOUS: Mapping[str, str] = {
    **dict.fromkeys(("wc", "wg", "h2o"), "inches or millimetres of water? write inH2O or mmH2O"),
    **dict.fromkeys(("m", "mo"), "minutes are written min, milliseconds ms"),
    **dict.fromkeys(
        ("scfm", "nm3/h", "sm3/h"),
        "a standard volume depends on its reference state; write the flow as cfm or m3/h",
    ),
    **dict.fromkeys(("psia", "bara"), "an absolute pressure cannot stand for a gauge pressure; write psi or bar"),
}


def known_units(kind: Kind) -> tuple[str, ...]:
    """The unit names of one kind, in the spelling this house writes, the site's inch among the pressures."""
    names = tuple(_TABLE[kind])
    return (_SITE_INCH, *names) if kind is Kind.PRESSURE else names


def canonical(unit: str) -> str:
    """The spelling this house writes for a unit.

    Raises:
        ValueError: unknown, or it could mean more than one unit; the message says what would be right.
    """
    if unit in _KIND_OF:
        return unit
    folded = _folded(unit)
    name = _BY_FOLDED.get(folded)
    if name is None or _is_mega(unit, name):
        raise ValueError(_complaint(unit, folded))
    return name


def kind_of(unit: str) -> Kind:
    """What a unit measures.

    Raises:
        ValueError: as ``canonical``.
    """
    return _KIND_OF[canonical(unit)]


def factor(unit: str, to: str, pa_per_inh2o: float) -> float:
    """How many of ``to`` one ``unit`` is.

    Args:
        unit: any spelling that ``canonical`` takes.
        to: likewise, of the same kind.
        pa_per_inh2o: what plain ``inH2O`` is at this site, one of ``PA_PER_INCH_OF_WATER``.

    Raises:
        ValueError: as ``canonical``, or the two are of different kinds.
    """
    name, to_name = canonical(unit), canonical(to)
    if name == to_name:
        return 1.0
    kind, to_kind = _KIND_OF[name], _KIND_OF[to_name]
    if kind is not to_kind:
        raise ValueError(f"{unit!r} is a {kind} and {to!r} a {to_kind}; one does not convert into the other")
    return _size(kind, name, pa_per_inh2o) / _size(kind, to_name, pa_per_inh2o)


def _size(kind: Kind, name: str, pa_per_inh2o: float) -> float:
    return pa_per_inh2o if name == _SITE_INCH else _TABLE[kind][name]


def _folded(unit: str) -> str:
    """A spelling without what people vary: case, spaces, dots, raised and lowered digits, degree signs."""
    plain = unit.strip().replace('"', "in").replace("″", "in").replace("''", "in")
    plain = unicodedata.normalize("NFKC", plain).casefold()
    for dropped in (" ", ".", "_", "-", "^", "@", "(", ")", "°", "deg"):
        plain = plain.replace(dropped, "")
    return plain


def _is_mega(unit: str, name: str) -> bool:
    """M is mega and m is milli: case is forgiven everywhere but there."""
    prefixed = name in {"mbar", "mA", "ms", "MPa"}
    return prefixed and unit.strip()[0] != name[0]


def _complaint(unit: str, folded: str) -> str:
    if folded in _AMBIGUOUS:
        return f"{unit!r} is not clear: {_AMBIGUOUS[folded]}"
    if folded in _BY_FOLDED:
        return f"{unit!r} is not clear: M is mega and m is milli; write {_BY_FOLDED[folded]}"
    return f"{unit!r} is no unit known here; known are {', '.join(_KIND_OF)}"


_KIND_OF: Mapping[str, Kind] = {name: kind for kind in Kind for name in known_units(kind)}
_BY_FOLDED: Mapping[str, str] = {**{_folded(name): name for name in _KIND_OF}, **_ALIASES}
