"""Snapshot of a curve: what was read from the curve of one collector, as text and back.

A set of filters lives for years, and what is known of it must outlive every restart and upgrade: fields go by
name, so that a later version may add some; only rows of which there are many are written by place.
"""

import json
from functools import cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from monitor.interpret.curve import CurveState


def curve_key(collector: str) -> str:
    """Under which what was read from the curve of a collector is remembered."""
    return f"curve/{collector}"


def write_curve(state: CurveState) -> str:
    """All of it as JSON text."""
    # Python's JSON writes and reads what is infinite.
    return json.dumps(_named(state), separators=(",", ":"))


def read_curve(text: str) -> CurveState:
    """The state back from its text; ValueError where it is not such a text."""
    try:
        return _adapter().validate_python(json.loads(text))
    except (ValidationError, TypeError) as error:
        raise ValueError(f"not a snapshot of a curve: {error}") from error


@cache
def _adapter() -> TypeAdapter[CurveState]:
    # Made when it is first needed: it takes some milliseconds of the start.
    return TypeAdapter(CurveState)


def _named(value: Any) -> Any:
    fields = getattr(value, "_fields", None)
    if fields is None:
        return value
    return {name: _named(own) for name, own in zip(fields, value, strict=True)}
