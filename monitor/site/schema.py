"""Schema: the shape of the site file as JSON Schema, so that editors complete and check it while one types.

The schema sees the file as an editor does, after YAML has guessed at types: 502 is a number there, and
``yes`` may be a boolean. It checks each key; what must hold between keys only ``cakewatch check`` tells.
"""

import json
from typing import Any

from monitor.site.shape.whole import SiteFile

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the site file."""
    schema = _tidied(SiteFile.model_json_schema())
    return {"$schema": DIALECT, "title": "cakewatch site file", **schema}


def as_text() -> str:
    """Return the schema as the file config/site.schema.json holds it."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def _tidied(node: Any, *, is_name: bool = False) -> Any:
    """Take out what only pydantic needs; ``is_name`` where the keys are names of ours and not keywords."""
    if isinstance(node, list):
        return [_tidied(item) for item in node]
    if not isinstance(node, dict):
        return node
    if is_name:
        return {name: _tidied(item) for name, item in node.items()}
    kept = {
        key: _tidied(item, is_name=key in ("properties", "$defs", "patternProperties"))
        for key, item in node.items()
        if key not in ("title", "discriminator") and not (key == "default" and item in (None, ""))
    }
    if isinstance(kept.get("default"), str):
        kept["default"] = _as_seen(kept["default"], kept)
    if "patternProperties" in kept:
        kept["additionalProperties"] = False
    return _without_null(kept)


def _as_seen(default: str, kept: dict[str, Any]) -> str | int | float:
    """A default as an editor sees it: a number where the key holds one."""
    if kept.get("type") == "number":
        return float(default)
    is_whole = kept.get("type") == "integer" or (default.isdecimal() and int(default) in kept.get("enum", ()))
    return int(default) if is_whole else default


def _without_null(node: dict[str, Any]) -> dict[str, Any]:
    """A key that is left out is no null: the site file knows none."""
    if "anyOf" not in node:
        return node
    options = [option for option in node["anyOf"] if option != {"type": "null"}]
    if len(options) == 1:
        return {**options[0], **{key: item for key, item in node.items() if key != "anyOf"}}
    return {**node, "anyOf": options}
