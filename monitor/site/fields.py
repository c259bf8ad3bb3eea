"""Fields: the kinds of value a key may hold, each with how it is read and what an editor is told of it."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from monitor.condition import units
from monitor.site import durations, quantities, values
from monitor.site.problems import shown

#: A number as JSON Schema patterns (ECMA 262) spell it.
_NUMBER = r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?"

_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, eq=False)
class Kind:
    """One kind of value: an annotation that pydantic reads.

    Attributes:
        read: text to value; raises ``values.UnfitError``.
        schema: what the JSON Schema says of the text as an editor sees it.
    """

    read: Callable[[Any], Any]
    schema: dict[str, Any]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Read by this kind alone, whatever the annotated type is."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Tell the editor what this kind says."""
        return dict(self.schema)


def whole(low: int, high: int) -> Kind:
    """A whole number from ``low`` to ``high``."""
    wanted = f"must be a whole number from {low} to {high}"
    read = partial(values.whole, low=low, high=high, wanted=wanted)
    return Kind(read, {"type": "integer", "minimum": low, "maximum": high})


def decimal() -> Kind:
    """Any finite decimal number."""
    return Kind(partial(values.number, wanted='must be a number, such as "0.01"'), {"type": "number"})


def counts_or_none() -> Kind:
    """A number of counts, or ``none``, which is read as None."""
    wanted = "must be a number of counts, or none"

    def read(value: Any) -> float | None:
        return None if value == "none" else values.number(value, wanted)

    return Kind(read, {"anyOf": [{"type": "number"}, {"const": "none"}]})


def yes_no() -> Kind:
    """Yes or no; editors that follow YAML 1.1 see a boolean, those that follow 1.2 a text."""
    return Kind(values.yes_no, {"enum": ["yes", "no", True, False]})


def duration(low_s: float, high_s: float, never: str = "") -> Kind:
    """A duration with its unit; ``never`` is a word that is taken as well, and read as None."""

    def read(value: Any) -> float | None:
        if never and value == never:
            return None
        return durations.duration(value, low_s, high_s, never)

    return Kind(read, _measured(durations.SECONDS_PER, never))


def megabytes(low: int, high: int) -> Kind:
    """A size with its unit."""
    return Kind(partial(durations.megabytes, low=low, high=high), _measured(durations.MEGABYTES_PER))


def quantity(kind: units.Kind, example: str) -> Kind:
    """A number with a unit of one kind, kept as written until the site's inch of water is known."""
    schema = _measured(units.known_units(kind)) | {"examples": [example]}
    return Kind(partial(quantities.quantity, kind=kind, example=example), schema)


def percent() -> Kind:
    """A share in percent, from 0 % to 100 %, read as 0 to 1."""

    def read(value: Any) -> float:
        found = quantities.quantity(value, units.Kind.PERCENT, "75 %")
        if not 0.0 <= found.number <= 100.0:
            raise values.UnfitError("must be from 0 % to 100 %")
        return found.number / 100.0

    return Kind(read, _measured(units.known_units(units.Kind.PERCENT)))


def date() -> Kind:
    """A day such as ``2026-03-01``, read as the Unix second of its beginning in UTC."""
    wanted = "must be a day such as 2026-03-01"

    def read(value: Any) -> float:
        try:
            day = datetime.strptime(values.text(value, wanted), "%Y-%m-%d").replace(tzinfo=UTC)
        except ValueError:
            raise values.UnfitError(wanted) from None
        return day.timestamp()

    return Kind(read, {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$", "examples": ["2026-03-01"]})


def zone() -> Kind:
    """A name of the IANA time zone database."""
    wanted = "must be a name of the IANA time zone database, such as UTC or America/Chicago"

    def read(value: Any) -> str:
        found = values.text(value, wanted)
        try:
            ZoneInfo(found)
        except (ValueError, OSError, ZoneInfoNotFoundError):
            raise values.UnfitError(wanted) from None
        return found

    return Kind(read, {"type": "string", "examples": ["UTC", "America/Chicago"]})


def time_of_day() -> Kind:
    """A time of the wall clock such as ``06:00``, read as seconds of the day, up to ``24:00``."""
    wanted = 'must be a time of the day such as "06:00", from 00:00 to 24:00'

    def read(value: Any) -> int:
        found = re.fullmatch(r"(\d\d):(\d\d)", values.text(value, wanted), re.ASCII)
        hours, minutes = (int(found[1]), int(found[2])) if found else (99, 99)
        if minutes > 59 or hours * 60 + minutes > 24 * 60:
            raise values.UnfitError(wanted)
        return hours * 3600 + minutes * 60

    return Kind(read, {"type": "string", "pattern": r"^(([01]\d|2[0-3]):[0-5]\d|24:00)$", "examples": ["06:00"]})


def weekdays() -> Kind:
    """Some days of the week as a list, or ``all``; read as 0 Monday to 6 Sunday."""
    wanted = f"must be all, or a list of some of {', '.join(_DAYS)}"

    def read(value: Any) -> frozenset[int]:
        if value == "all":
            return frozenset(range(len(_DAYS)))
        if not isinstance(value, list) or not value:
            raise values.UnfitError(wanted, "it is empty" if value == [] else "")
        return frozenset(_DAYS.index(_one_of(item, _DAYS, wanted)) for item in value)

    some = {"type": "array", "items": {"enum": list(_DAYS)}, "minItems": 1}
    return Kind(read, {"anyOf": [{"const": "all"}, some]})


def any_quantity(example: str) -> Kind:
    """A number with whatever unit."""
    schema = {"type": "string", "pattern": f"^{_NUMBER} *[^0-9 ].*$", "examples": [example]}
    return Kind(partial(quantities.any_quantity, example=example), schema)


def unit_of(kind: units.Kind) -> Kind:
    """The name of a unit of one kind."""
    return Kind(partial(quantities.unit, kind=kind), {"enum": list(units.known_units(kind))})


def choice(choices: Sequence[str]) -> Kind:
    """One word of a few; numbers among them are offered to editors as numbers."""
    offered = [int(word) if word.isdecimal() else word for word in choices]
    return Kind(partial(values.choice, choices=choices), {"enum": offered})


def member(enum: type[StrEnum], choices: Sequence[str] = ()) -> Kind:
    """One member of an enum, or of a part of it."""
    words = tuple(choices) or tuple(item.value for item in enum)
    return Kind(lambda value: enum(values.choice(value, words)), {"enum": list(words)})


def several(enum: type[StrEnum], *, may_be_none: bool = False) -> Kind:
    """Some members of an enum as a list, or the word ``all`` (or ``none``, where that makes sense)."""
    words = ("all", "none") if may_be_none else ("all",)
    names = tuple(item.value for item in enum)
    wanted = f"must be {' or '.join(words)}, or a list of some of {', '.join(names)}"

    def read(value: Any) -> frozenset[StrEnum]:
        if value in words:
            return frozenset(enum) if value == "all" else frozenset()
        if not isinstance(value, list) or not value:
            raise values.UnfitError(wanted, "it is empty" if value == [] else "")
        return frozenset(enum(_one_of(item, names, wanted)) for item in value)

    some = {"type": "array", "items": {"enum": list(names)}, "minItems": 1}
    return Kind(read, {"anyOf": [{"enum": list(words)}, some]})


def _one_of(item: Any, names: Sequence[str], wanted: str) -> str:
    if item not in names:
        near = values.meant(item, names) if isinstance(item, str) else ""
        raise values.UnfitError(wanted, f"{shown(item)} is none of them{': ' if near else ''}{near}")
    return str(item)


def name(what: str) -> Kind:
    """A name or tag of safe characters, 40 at most."""
    # Editors may see a number where a name consists of digits.
    pattern = {"type": ["string", "integer"], "pattern": "^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$"}
    return Kind(partial(values.name, what=what), pattern)


def line(what: str, longest: int = 200) -> Kind:
    """One line of free text."""
    wanted = f"must be {what}: one line of {longest} characters at most"

    def read(value: Any) -> str:
        found = values.text(value, wanted)
        if len(found) > longest or not found.isprintable():
            raise values.UnfitError(wanted)
        return found

    return Kind(read, {"type": ["string", "integer"], "maxLength": longest})


def matching(pattern: str, wanted: str, examples: Iterable[str] = ()) -> Kind:
    """A text of one shape; the pattern must mean the same to Python and to ECMA 262."""

    def read(value: Any) -> str:
        found = values.text(value, wanted)
        if not re.fullmatch(pattern, found, re.ASCII):
            raise values.UnfitError(wanted)
        return found

    return Kind(read, {"type": "string", "pattern": f"^{pattern}$", "examples": list(examples)})


def reference() -> Kind:
    """A reference number; editors see it as a number, and one that begins with 0 without its zeros."""
    wanted = (
        "must be a reference number of 5 or 6 digits whose first digit names the table: 0 coil, 1 discrete input, "
        "3 input register, 4 holding register"
    )
    texts = matching(r"[0134](\d{4}|\d{5})", wanted, ["30001", "400001"])
    return Kind(texts.read, {"anyOf": [texts.schema, {"type": "integer", "minimum": 1, "maximum": 465536}]})


def _measured(names: Iterable[str], never: str = "") -> dict[str, Any]:
    choices = "|".join(re.escape(unit).replace("\\ ", " ") for unit in sorted(names))
    pattern = f"{_NUMBER} *({choices})"
    return {"type": "string", "pattern": f"^({pattern}|{never})$" if never else f"^{pattern}$"}
