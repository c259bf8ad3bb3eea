"""Paper words: JSON schemas in few words, as OpenAPI 3.1 takes them (JSON Schema 2020-12)."""

from collections.abc import Iterable
from typing import Any

Schema = dict[str, Any]


def text() -> Schema:
    """Any text."""
    return {"type": "string"}


def yes_no() -> Schema:
    """True or false."""
    return {"type": "boolean"}


def one_of(words: Iterable[str | None]) -> Schema:
    """One of these words."""
    return {"enum": [word if word is None else str(word) for word in words]}


def number(least: float | None = None, most: float | None = None) -> Schema:
    """A number, both ends included."""
    return {"type": "number"} | _ends(least, most)


def whole(least: int | None = None, most: int | None = None) -> Schema:
    """A whole number, both ends included."""
    return {"type": "integer"} | _ends(least, most)


def or_null(schema: Schema) -> Schema:
    """That, or null where it is not known."""
    return {"anyOf": [schema, {"type": "null"}]}


def some(items: Schema, most: int | None = None) -> Schema:
    """A list of such, with at most so many."""
    return {"type": "array", "items": items} | ({} if most is None else {"maxItems": most})


def row(*columns: Schema) -> Schema:
    """A list of exactly these, in this order."""
    count = len(columns)
    return {"type": "array", "prefixItems": list(columns), "minItems": count, "maxItems": count}


def body(**fields: Schema) -> Schema:
    """An object with exactly these fields."""
    return {"type": "object", "properties": fields, "required": list(fields), "additionalProperties": False}


def by_name(schema: Schema) -> Schema:
    """An object with any names, each such a thing."""
    return {"type": "object", "additionalProperties": schema}


def _ends(least: float | None, most: float | None) -> Schema:
    ends = {"minimum": least, "maximum": most}
    return {name: end for name, end in ends.items() if end is not None}
