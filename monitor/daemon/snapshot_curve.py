"""Snapshot of a curve: what was read from the curve of one collector, as text and back.

A set of filters lives for years, and what is known of it must outlive every restart, upgrade and way back. So
fields go by name, and only rows of which there are many by place: what a later version added is passed over, what
an earlier one did not have begins at its default (new fields need one, and in a row they come last), and a part
that cannot be understood begins anew without the others.
"""

import json
import logging
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, get_args, get_origin, get_type_hints

from pydantic import TypeAdapter, ValidationError

from monitor.interpret.curve import CurveState

log = logging.getLogger(__name__)

_Trim = Callable[[Any], Any]


def curve_key(collector: str) -> str:
    """Under which what was read from the curve of a collector is remembered."""
    return f"curve/{collector}"


def write_curve(state: CurveState) -> str:
    """All of it as JSON text."""
    # Python's JSON writes and reads what is infinite.
    return json.dumps(_named(state), separators=(",", ":"))


def read_curve(text: str, collector: str = "") -> CurveState:
    """The state back from its text; ValueError where nothing of it can be understood.

    ``collector`` is named in the log where a part is dropped.
    """
    told = json.loads(text)
    if not isinstance(told, dict):
        raise ValueError("not a snapshot of a curve: it has no fields")
    found, why = {}, "it has none of the fields"
    for name, (trim, adapter) in _parts().items():
        if name not in told:
            continue
        try:
            found[name] = adapter.validate_python(trim(told[name]))
        except ValidationError as error:
            why = _first(error)
            log.error("part of a curve's snapshot is dropped collector=%s part=%s why=%r", collector, name, why)
    if not found:
        raise ValueError(f"not a snapshot of a curve: {why}")
    return CurveState(**found)


@cache
def _parts() -> Mapping[str, tuple[_Trim, TypeAdapter[Any]]]:
    # Made when they are first needed: it takes some milliseconds of the start.
    return {name: (_trim(kind), TypeAdapter(kind)) for name, kind in get_type_hints(CurveState).items()}


@cache
def _trim(kind: Any) -> _Trim:
    """How a value of that kind is rid of what this version does not know."""
    if hasattr(kind, "_fields"):
        return _trim_fields([(name, _trim(own)) for name, own in get_type_hints(kind).items()])
    inner = [own for own in get_args(kind) if own is not Ellipsis]
    if get_origin(kind) is tuple:
        return _trim_rows([_trim(own) for own in inner], alike=Ellipsis in get_args(kind))
    # Of a union (something or None) one at most has anything to be trimmed.
    return next((_trim(own) for own in inner if _trim(own) is not _as_it_is), _as_it_is)


def _first(error: ValidationError) -> str:
    """What is wrong, in a line; there may be hundreds of the same."""
    fault = error.errors(include_url=False)[0]
    return f"{'.'.join(map(str, fault['loc']))}: {fault['msg']} ({error.error_count()} in all)"


def _as_it_is(value: Any) -> Any:
    return value


def _trim_fields(fields: list[tuple[str, _Trim]]) -> _Trim:
    def trim(value: Any) -> Any:
        if isinstance(value, dict):
            return {name: own(value[name]) for name, own in fields if name in value}
        if isinstance(value, list):
            return [own(one) for (_, own), one in zip(fields, value, strict=False)]
        return value

    return trim


def _trim_rows(inner: list[_Trim], *, alike: bool) -> _Trim:
    if all(own is _as_it_is for own in inner):
        return _as_it_is

    def trim(value: Any) -> Any:
        if not isinstance(value, list):
            return value
        if alike:
            return [inner[0](one) for one in value]
        return [own(one) for own, one in zip(inner, value, strict=False)]

    return trim


def _named(value: Any) -> Any:
    fields = getattr(value, "_fields", None)
    if fields is None:
        return value
    return {name: _named(own) for name, own in zip(fields, value, strict=True)}
