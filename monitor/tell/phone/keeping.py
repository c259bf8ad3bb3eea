"""Keeping: the state as texts, one for each callout and message, and back; so only what changed is written.

Fields go by name: what a later version added is passed over, what an earlier one did not have begins at its
default.
"""

import json
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, NamedTuple, TypeVar, get_args, get_origin, get_type_hints

from pydantic import TypeAdapter

from monitor.tell.phone.callout import Callout
from monitor.tell.phone.draft import cause_key
from monitor.tell.phone.errand import Box, Errand, Lane
from monitor.tell.phone.state import Awaited, RelayState

_T = TypeVar("_T")

HEAD = "phone"
_CALLOUT = "phone/callout/"
_MESSAGE = "phone/message/"


class _Head(NamedTuple):
    """What is neither a callout nor a message."""

    seq: int = 0
    lanes: Mapping[str, Lane] | None = None
    calls_s: Mapping[str, tuple[float, ...]] | None = None
    notices_s: Mapping[str, tuple[float, ...]] | None = None
    explains: Mapping[str, int] | None = None
    awaited: Mapping[str, Awaited] | None = None
    well_utc_s: float | None = None


def parts(state: RelayState) -> dict[str, str]:
    """The state as texts by key, one for each callout and message and one for the rest."""
    found = changes(RelayState(), state)
    return {HEAD: _write(_head(state)), **{key: text for key, text in found.items() if text is not None}}


def changes(before: RelayState, after: RelayState) -> dict[str, str | None]:
    """What must be written to turn the texts of one state into those of the other; None: to be removed."""
    found: dict[str, str | None] = {}
    _compare(found, _CALLOUT, before.callouts, after.callouts)
    for person in dict.fromkeys([*before.boxes, *after.boxes]):
        old, new = before.boxes.get(person, Box()), after.boxes.get(person, Box())
        if old.errands is not new.errands:
            _compare(found, f"{_MESSAGE}{person}/", old.errands, new.errands)
    if _head(before) != _head(after):
        found[HEAD] = _write(_head(after))
    return found


def whole(texts: dict[str, str]) -> RelayState:
    """The state again; ValueError where the texts cannot be understood."""
    head = _read(_Head, texts[HEAD]) if HEAD in texts else _Head()
    callouts = [_read(Callout, text) for key, text in texts.items() if key.startswith(_CALLOUT)]
    errands = [_read(Errand, text) for key, text in texts.items() if key.startswith(_MESSAGE)]
    people = dict.fromkeys([one.person for one in errands] + [*(head.calls_s or ()), *(head.notices_s or ())])
    return RelayState(
        seq=head.seq,
        callouts={one.key: one for one in sorted(callouts, key=lambda one: one.began_s)},
        boxes={person: _box(person, errands, head) for person in people},
        lanes=head.lanes or {},
        by_tag={entry.alarm.tag: one.key for one in callouts for entry in one.entries},
        by_cause={cause_key(one.route, cause): one.key for one in callouts for cause in one.causes},
        explains=head.explains or {},
        awaited=head.awaited or {},
        well_utc_s=head.well_utc_s,
    )


def _box(person: str, errands: list[Errand], head: _Head) -> Box:
    own = sorted([one for one in errands if one.person == person], key=lambda one: (one.made_s, one.ref))
    due_s = min([one.due_s for one in own], default=float("inf"))
    kept = {one.ref: one for one in own}
    calls_s, notices_s = head.calls_s or {}, head.notices_s or {}
    return Box(kept, calls_s.get(person, ()), notices_s.get(person, ()), due_s)


def _head(state: RelayState) -> _Head:
    return _Head(
        seq=state.seq,
        lanes={key: lane for key, lane in state.lanes.items() if lane != Lane()},
        calls_s={person: box.calls_s for person, box in state.boxes.items() if box.calls_s},
        notices_s={person: box.notices_s for person, box in state.boxes.items() if box.notices_s},
        explains=dict(state.explains),
        awaited=dict(state.awaited),
        well_utc_s=state.well_utc_s,
    )


def _compare(found: dict[str, str | None], room: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> None:
    for key, value in after.items():
        known = before.get(key)
        if known is not value and known != value:
            found[room + key] = _write(value)
    for key in before:
        if key not in after:
            found[room + key] = None


def _write(value: Any) -> str:
    # Python's JSON writes and reads what is infinite.
    return json.dumps(_named(value), separators=(",", ":"), sort_keys=True)


def _named(value: Any) -> Any:
    if hasattr(value, "_fields"):
        return {name: _named(own) for name, own in zip(value._fields, value, strict=True)}
    if isinstance(value, Mapping):
        return {key: _named(own) for key, own in value.items()}
    return [_named(own) for own in value] if isinstance(value, tuple) else value


def _read(kind: Callable[..., _T], text: str) -> _T:
    adapter: TypeAdapter[_T] = _adapter(kind)
    told = json.loads(text)
    if not isinstance(told, dict):
        raise ValueError("not a part of the phone's state: it has no fields")
    return adapter.validate_python(_trim(kind)(told))


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    # Made when it is first needed: it takes some milliseconds of the start.
    return TypeAdapter(kind)


@cache
def _trim(kind: Any) -> Callable[[Any], Any]:
    """How a value of that kind is rid of what this version does not know."""
    if hasattr(kind, "_fields"):
        return _trim_fields({name: _trim(own) for name, own in get_type_hints(kind).items()})
    inner = [own for own in get_args(kind) if own is not Ellipsis]
    trims = [trim for own in inner if (trim := _trim(own)) is not _as_it_is]
    if not trims:
        return _as_it_is
    # Of a row, a mapping's values or a union one kind at most has fields.
    return {tuple: _trim_rows, Mapping: _trim_values}.get(get_origin(kind), _trim_one)(trims[0])


def _as_it_is(value: Any) -> Any:
    return value


def _trim_one(own: Callable[[Any], Any]) -> Callable[[Any], Any]:
    return own


def _trim_fields(fields: Mapping[str, Callable[[Any], Any]]) -> Callable[[Any], Any]:
    def trim(value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        return {name: own(value[name]) for name, own in fields.items() if name in value}

    return trim


def _trim_rows(own: Callable[[Any], Any]) -> Callable[[Any], Any]:
    return lambda value: [own(one) for one in value] if isinstance(value, list) else value


def _trim_values(own: Callable[[Any], Any]) -> Callable[[Any], Any]:
    return lambda value: {key: own(one) for key, one in value.items()} if isinstance(value, dict) else value
