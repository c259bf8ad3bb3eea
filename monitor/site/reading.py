"""Reading: the text of the file against its shape; every fault becomes one of our own sentences.

Where a part is faulty the rest is still judged: the faulty part is taken out and what is left is read again,
so that one wrong delay does not hide a tag that stands twice.
"""

from typing import Any

from pydantic import BaseModel, ValidationError

from monitor.acquire.settings import Protocol
from monitor.site.document import Document
from monitor.site.problems import KeyPath, Problem, shown
from monitor.site.shape.whole import SiteFile
from monitor.site.unknown_keys import about_key, advice_for
from monitor.site.values import UnfitError, listed, meant

#: Parts that can be missing while the rest still makes sense, by their depth and the section they are in.
_COLLECTOR_PARTS = 3

_PROTOCOLS = tuple(protocol.value for protocol in Protocol)


def read(document: Document) -> tuple[SiteFile | None, list[Problem]]:
    """Return what could be read of the file, and every fault of its shape."""
    try:
        return SiteFile.model_validate(document.data), []
    except ValidationError as error:
        problems = _translated(error, document)
        return _without_faulty_parts(error, document.data), problems


def _translated(error: ValidationError, document: Document) -> list[Problem]:
    problems: dict[tuple[KeyPath, str], Problem] = {}
    for fault in error.errors(include_url=False, include_context=True):
        path = _path_in(document.data, fault)
        if _is_known(path, document.holes):
            continue
        wanted, found = _sentence(fault, path, document.data)
        problems[path, wanted] = document.problem(path, wanted, found)
    return list(problems.values())


def _is_known(path: KeyPath, holes: set[KeyPath]) -> bool:
    return any(path[: len(hole)] == hole for hole in holes)


def _path_in(data: Any, fault: Any) -> KeyPath:
    """The fault's place in the file, without the names that pydantic gives to the shapes of a choice."""
    path: list[str | int] = []
    names_absent_key = fault["type"] in ("missing", "extra_forbidden")
    parts = [part for part in fault["loc"] if part != "[key]"]
    for index, part in enumerate(parts):
        if _has(data, part):
            data = data[part]
            path.append(part)
        elif names_absent_key and index == len(parts) - 1:
            path.append(part)
    if fault["type"] == "union_tag_invalid":
        path.append("protocol")
    return tuple(path)


def _has(data: Any, part: str | int) -> bool:
    if isinstance(data, dict):
        return part in data
    return isinstance(data, list) and isinstance(part, int) and part < len(data)


def _value_at(data: Any, path: KeyPath) -> Any:
    for part in path:
        if not _has(data, part):
            return None
        data = data[part]
    return data


def _sentence(fault: Any, path: KeyPath, data: Any) -> tuple[str, str]:
    """What would be right, and what was found."""
    kind = fault["type"]
    value = _value_at(data, path)
    if kind == "missing":
        return f"is missing: {_first_words(SiteFile, path)}", ""
    if kind == "extra_forbidden":
        return advice_for(SiteFile, path, data), ""
    if kind == "union_tag_invalid":
        return _protocol_sentence(str(value))
    if kind == "union_tag_not_found" and isinstance(value, dict):
        return f"is missing a protocol: {listed(_PROTOCOLS)}", ""
    if kind == "value_error":
        return _unfit_sentence(fault, path, value)
    if kind == "too_short":
        return "must hold at least one entry", ""
    wanted = "must be a list, each item behind a hyphen" if kind == "list_type" else "must be a block of keys"
    return wanted, "a text" if isinstance(value, str) else shown(value, path)


def _unfit_sentence(fault: Any, path: KeyPath, value: Any) -> tuple[str, str]:
    error: UnfitError = fault["ctx"]["error"]
    if "[key]" in fault["loc"]:
        return error.wanted, shown(path[-1])
    found = shown(value, path)
    # The note may repeat the value, so it goes where the value goes.
    is_hidden = isinstance(value, str) and found.startswith("a text")
    return error.wanted, f"{found}: {error.note}" if error.note and not is_hidden else found


def _protocol_sentence(found: str) -> tuple[str, str]:
    near = meant(found, _PROTOCOLS)
    return f"must be {listed(_PROTOCOLS)}", f"{shown(found)}: {near}" if near else shown(found)


def _first_words(model: type[BaseModel], path: KeyPath) -> str:
    description = about_key(model, path) or "it must be given"
    words = description.partition(". ")[0].removesuffix(".")
    return words[0].lower() + words[1:] if not words[1:2].isupper() else words


def _without_faulty_parts(error: ValidationError, data: dict[str, Any]) -> SiteFile | None:
    # A collector without its DP is no collector, so what begins with a part may end with the whole of it.
    for _ in range(4):
        for fault in error.errors(include_url=False, include_input=False, include_context=False):
            data = _without(data, _part(_path_in(data, fault)))
        try:
            return SiteFile.model_validate(data)
        except ValidationError as next_error:
            error = next_error
    return None


def _part(path: KeyPath) -> KeyPath:
    """The smallest part of the file that can be taken out around a fault."""
    if path[:1] == ("collectors",):
        is_band = len(path) > 3 and path[2] == "bands"
        return path[:4] if is_band else path[:_COLLECTOR_PARTS]
    return path[:2] if path[:1] == ("links",) else path[:1]


def _without(data: dict[str, Any], path: KeyPath) -> dict[str, Any]:
    """A copy without one key, or without the block around it where the key is the one that is missing."""
    if not path:
        return data
    key, rest = path[0], path[1:]
    if key not in data:
        return data
    inner = data[key]
    copy = dict(data)
    if rest and isinstance(inner, dict) and rest[0] in inner:
        copy[key] = _without(inner, rest)
    else:
        del copy[key]
    return copy
