"""Web schemas: what the answers of our own addresses look like, for the OpenAPI document."""

from collections.abc import Mapping
from typing import Any

from monitor.words import AlarmState, AnswerCode, CommandKind

Schema = Mapping[str, Any]


def json_answer(description: str, schema: Schema) -> dict[str, Any]:
    """One response of an operation."""
    return {"description": description, "content": {"application/json": {"schema": schema}}}


def object_of(properties: Mapping[str, Schema]) -> dict[str, Any]:
    """An object that has exactly these."""
    return {
        "type": "object",
        "additionalProperties": False,
        "required": list(properties),
        "properties": dict(properties),
    }


_TEXT: Schema = {"type": "string"}
_YES_NO: Schema = {"type": "boolean"}
_MAY: Schema = {"type": "array", "items": _TEXT, "description": "commands that you may send"}
_CSRF: Schema = {"type": "string", "description": "to be repeated in X-Cakewatch-Token"}
_ERROR = object_of({"error": {"type": "string", "description": "one plain English sentence"}})

#: Every way of being turned away, for any address.
ERROR: dict[str, Any] = {"default": json_answer("turned away; the sentence says why", _ERROR)}

ME: dict[str, Any] = {
    "200": json_answer(
        "who you are",
        object_of(
            {
                "person": {"type": "string", "description": "as proven; empty without a login or token"},
                "how": {"enum": ["nobody", "machine", "socket", "session", "token"]},
                "may": _MAY,
                "login_needed": _YES_NO,
                "can_login": _YES_NO,
                "csrf": {"type": ["string", "null"], "description": "to be repeated in X-Cakewatch-Token"},
            }
        ),
    )
} | ERROR

LOGGED_IN: dict[str, Any] = {
    "200": json_answer("logged in", object_of({"person": _TEXT, "may": _MAY, "csrf": _CSRF}))
} | ERROR

HEALTH = object_of(
    {
        "ok": _YES_NO,
        "checks": {
            "type": "object",
            "description": "by name ok, or a sentence; empty for whoever may not look",
            "additionalProperties": _TEXT,
        },
    }
)


def login_body(longest_name: int, longest_password: int) -> dict[str, Any]:
    """What a login brings."""
    schema = object_of(
        {
            "person": {"type": "string", "maxLength": longest_name},
            "password": {"type": "string", "maxLength": longest_password},
        }
    )
    return {"required": True, "content": {"application/json": {"schema": schema}}}


_NAME: Schema = {"type": "string", "minLength": 1, "maxLength": 64}
_ANSWER: Schema = object_of(
    {
        "command_id": _TEXT,
        "code": {"enum": [code.value for code in AnswerCode]},
        "done": _YES_NO,
        "text": {"type": "string", "description": "one plain English sentence"},
        "tag": {"type": ["string", "null"]},
        "state": {"enum": [None, *(state.value for state in AlarmState)]},
        "repeated": _YES_NO,
        "at": {"type": "string", "format": "date-time"},
    }
)
_COMMAND: Schema = {
    "type": "object",
    "description": "in full: config/commands.schema.json",
    "additionalProperties": False,
    "required": ["command_id", "command"],
    "properties": {
        "command_id": {"type": "string", "pattern": "^[A-Za-z0-9._:-]{1,64}$"},
        "command": {"enum": [kind.value for kind in CommandKind]},
        "tag": _NAME,
        "by": _NAME,
        "reason": {"type": "string", "minLength": 1, "maxLength": 200},
        "for": {"type": ["string", "number"], "description": "such as 30 min, or seconds"},
        "collector": _NAME,
        "at": {"type": "string", "format": "date-time"},
        "action": {"type": "string", "minLength": 1, "maxLength": 200},
        "sent_at": {"type": "string", "format": "date-time"},
        "person": _NAME,
    },
}

METRICS: dict[str, Any] = {
    "200": {
        "description": "every figure, in the form that Accept asks for",
        "content": {"text/plain": {"schema": _TEXT}, "application/openmetrics-text": {"schema": _TEXT}},
    }
} | ERROR
HEALTH_ANSWERS: dict[str, Any] = {
    "200": json_answer("everything moves", HEALTH),
    "503": json_answer("something stands still", HEALTH),
} | ERROR
INDEX_ANSWERS: dict[str, Any] = {
    "200": json_answer("what there is", {"type": "object", "additionalProperties": _TEXT})
} | ERROR
OPENAPI: dict[str, Any] = {"200": json_answer("the document", {"type": "object"})} | ERROR
ALARMS: dict[str, Any] = {
    "parameters": [
        {
            "name": "state",
            "in": "query",
            "schema": {"type": "array", "items": {"enum": [state.value for state in AlarmState]}},
        },
        {"name": "held", "in": "query", "schema": {"enum": ["yes", "no"]}},
    ],
    "responses": {
        "200": json_answer("the alarms", object_of({"alarms": {"type": "array", "items": {"type": "object"}}}))
    }
    | ERROR,
}
COMMANDS: dict[str, Any] = {
    "requestBody": {"required": True, "content": {"application/json": {"schema": _COMMAND}}},
    "responses": {
        "200": json_answer("it was done", _ANSWER),
        "default": json_answer("it was not; the code says why", _ANSWER),
    },
}

_HTML: Schema = {"text/html": {"schema": _TEXT}}
_TOKEN: Schema = {
    "name": "token",
    "in": "path",
    "required": True,
    "schema": {"type": "string", "pattern": "^[A-Za-z0-9_-]{22}$"},
}


def _pages(descriptions: Mapping[str, str]) -> dict[str, Any]:
    answers = {status: {"description": says, "content": dict(_HTML)} for status, says in descriptions.items()}
    return {"parameters": [dict(_TOKEN)], "responses": answers}


_LINK_IS_NOT_GOOD = {
    "404": "the link is not known",
    "410": "it was used, or has expired",
    "429": "too many wrong links from one place",
}
ACK_GET = _pages({"200": "what it would acknowledge", **_LINK_IS_NOT_GOOD})
ACK_POST = _pages(
    {
        "200": "what became of each alarm",
        "403": "that person may not acknowledge (any more)",
        "503": "the journal has not confirmed it; the link is still good",
        **_LINK_IS_NOT_GOOD,
    }
)
