"""Unknown keys: what a key that has no place was probably meant to be."""

from collections.abc import Iterator
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from monitor.site.problems import KeyPath
from monitor.site.shape.links import Link
from monitor.site.values import listed, meant

_ADDRESS_WORDS = frozenset(
    {"address", "register", "reg", "addr", "offset_address", "start_address", "register_address", "modbus_address"}
    | {"register_number", "start_register", "index", "reference"}
)
_ADDRESS = (
    "can mean two things one apart: write protocol_address (from 0, as on the wire, with table) or "
    "reference_number (from 1, such as 30001)"
)
_TWO_RIGHT_WAYS = (
    "a secret never stands in the site file: name an environment variable with {0}_env, or a file with {0}_file"
)
_SECRET_WORDS = frozenset({"password", "passwd", "pass", "secret", "token", "pwd"})


def advice_for(root: type[BaseModel], path: KeyPath, data: Any) -> str:
    """Return what to say of a key that the block it stands in does not have."""
    key = str(path[-1])
    known = keys_at(root, path[:-1])
    own = _keys_of_protocol(known, path, data)
    if key.casefold() in _SECRET_WORDS:
        return _TWO_RIGHT_WAYS.format("token" if "token_env" in known else "password")
    if "protocol_address" in known and key.casefold() in _ADDRESS_WORDS:
        # Only an output has words to write: a register that can be written is 4xxxx.
        return _ADDRESS.replace("30001", "40001") if "on_word" in known else _ADDRESS
    if key in known:
        # Known to another shape of the same choice: only links have several.
        return f"has no place on a {_protocol(path, data)} link"
    near = meant(key, own)
    return f"is not a known key: {near or f'known here are {listed(sorted(own))}'}"


def keys_at(root: type[BaseModel], path: KeyPath) -> dict[str, FieldInfo]:
    """Return the keys that a block may have; those of every shape where there is a choice."""
    models = [root]
    for part in path:
        # What is no key of the block is a name that the file chose, or a position in a list.
        fields = [model.model_fields[part] for model in models if part in model.model_fields]
        models = [model for field in fields for model in _models_in(field.annotation)] or models
    return {name: field for model in models for name, field in model.model_fields.items()}


def about_key(root: type[BaseModel], path: KeyPath) -> str:
    """Return the description of a key, or nothing."""
    field = keys_at(root, path[:-1]).get(str(path[-1]))
    return (field.description or "") if field else ""


def _keys_of_protocol(known: dict[str, FieldInfo], path: KeyPath, data: Any) -> list[str]:
    """The keys of one block where its protocol tells which of the shapes of a link it is."""
    protocol = _protocol(path, data)
    fitting = [
        model for model in _models_in(Link) if protocol in get_args(model.model_fields["protocol"].annotation)
    ]
    return list(fitting[0].model_fields) if fitting and path[0] == "links" and len(path) == 3 else list(known)


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models_in(inner)


def _protocol(path: KeyPath, data: Any) -> str:
    link = data.get(path[0], {}).get(path[1], {}) if len(path) > 2 else {}
    return str(link.get("protocol", "")) if isinstance(link, dict) else ""
