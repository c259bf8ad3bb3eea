"""Writing: payloads as JSON, and as messages of an event stream (HTML Standard §9.2, server-sent events)."""

import json
from typing import Any

_JSON = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False, allow_nan=False)

#: What a browser does after the stream broke, milliseconds.
RETRY = b"retry: 2000\n\n"


def written(payload: Any) -> bytes:
    """Compact JSON in UTF-8; a lone surrogate in a name becomes a question mark."""
    return _JSON.encode(payload).encode("utf-8", "replace")


def message(event: str, payload: Any) -> bytes:
    """One message of an event stream. JSON has no line break of its own, so one data line holds it."""
    return b"event: " + event.encode() + b"\ndata: " + written(payload) + b"\n\n"
