"""Papers: what the OpenAPI document says of the page's addresses: what may be asked, and what comes back."""

from collections.abc import Mapping
from typing import Any

from monitor.tell.page import paper_bodies as bodies
from monitor.tell.page.paper_words import number, text, whole
from monitor.tell.page.queries import (
    FEWEST_POINTS,
    LAST_SEQ,
    LAST_UTC_S,
    MOST_EVENTS,
    MOST_POINTS,
    USUAL_EVENTS,
    USUAL_POINTS,
)

Paper = Mapping[str, Any]


def _answer(says: str, schema: Paper, kind: str = "application/json") -> Paper:
    return {"description": says, "content": {kind: {"schema": schema}}}


def _query(name: str, schema: Paper, says: str, *, many: bool = False) -> Paper:
    shape = {"type": "array", "items": schema} if many else schema
    return {"name": name, "in": "query", "required": False, "description": says, "schema": shape}


def _moment(name: str, says: str) -> Paper:
    return _query(name, number(0, LAST_UTC_S), f"{says}, Unix seconds")


_WRONG = _answer("the question cannot be understood: a sentence", bodies.ERROR)
_UNKNOWN = _answer("there is no such collector: a sentence", bodies.ERROR)
_BUSY = _answer("it cannot be answered just now: a sentence", bodies.ERROR)
_NAME: Paper = {
    "name": "name", "in": "path", "required": True, "description": "of the collector, as in the site file",
    "schema": text(),
}  # fmt: skip
_COLLECTOR = _query("collector", text(), "a collector's name, as in the site file")

INDEX: Paper = {
    "responses": {"200": _answer("the page", text(), "text/html"), "304": {"description": "as before"}}
}
FILE: Paper = {
    "parameters": [
        {"name": "file", "in": "path", "required": True, "schema": text()},
        _query("v", text(), "a version: the file may then be kept for a year"),
    ],
    "responses": {
        "200": {"description": "the file"},
        "304": {"description": "as before"},
        "404": _answer("there is no such file: a sentence", bodies.ERROR),
    },
}
PLANT: Paper = {"responses": {"200": _answer("the plant as it is now", bodies.PLANT)}}
TRENDS: Paper = {
    "parameters": [_query("collector", text(), "of these; without one, of all", many=True)],
    "responses": {"200": _answer("oldest piece first", bodies.TRENDS), "400": _WRONG},
}
COLLECTOR: Paper = {
    "parameters": [_NAME],
    "responses": {
        "200": _answer("the collector", bodies.DETAILS), "400": _WRONG, "404": _UNKNOWN, "503": _BUSY,
    },
}  # fmt: skip
CHART: Paper = {
    "parameters": [
        _NAME,
        _moment("from_utc_s", "the begin; without it eight hours before the end"),
        _moment("until_utc_s", "the end, 60 s to 3 years after the begin; without it now"),
        _query("points", whole(FEWEST_POINTS, MOST_POINTS), f"pieces at most; {USUAL_POINTS} without it"),
    ],
    "responses": {"200": _answer("the chart", bodies.CHART), "400": _WRONG, "404": _UNKNOWN, "503": _BUSY},
}
EVENTS: Paper = {
    "parameters": [
        _COLLECTOR,
        _query("before_seq", whole(1, LAST_SEQ), "older than the event of this number"),
        _query("limit", whole(1, MOST_EVENTS), f"so many at most; {USUAL_EVENTS} without it"),
    ],
    "responses": {"200": _answer("newest first", bodies.EVENTS), "400": _WRONG, "503": _BUSY},
}
STREAM: Paper = {
    "responses": {
        "200": _answer(
            "events: plant (whole, first), values, cards, alarms, event, beat (every 2 s); each with JSON as data",
            text(),
            "text/event-stream",
        ),
        "503": _BUSY,
    }
}
