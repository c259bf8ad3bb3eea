"""Web OpenAPI: what the table of addresses says of itself: an OpenAPI 3.1 document, and a table for people."""

from collections.abc import Iterable, Mapping
from typing import Any

from monitor.tell.web_schemas import ERROR
from monitor.tell.web_table import Address, Right

_ABOUT = (
    "Differential pressure across the filters of pulse-jet dust collectors: how each stands, its alarms, "
    "and commands. On the machine itself no secret is needed; from elsewhere a person's token or a login."
)
_WHO: Mapping[Right, str] = {
    Right.ANYBODY: "anybody",
    Right.LOOK: "who may look",
    Right.OPERATE: "who may look; each command as `commands` says",
    Right.LINK: "who has the link",
}
_SCHEMES: Mapping[str, Any] = {
    "token": {"type": "http", "scheme": "bearer", "description": "a person's token"},
    "session": {
        "type": "apiKey",
        "in": "cookie",
        "name": "cakewatch",
        "description": "set by a login (__Host-cakewatch with TLS); what changes something also needs forgery",
    },
    "forgery": {
        "type": "apiKey",
        "in": "header",
        "name": "X-Cakewatch-Token",
        "description": "csrf of /api/v1/me",
    },
}


def document(table: Iterable[Address], version: str) -> dict[str, Any]:
    """The OpenAPI 3.1.0 document of these addresses.

    Args:
        table: every address of one door.
        version: of the program.
    """
    paths: dict[str, dict[str, Any]] = {}
    for address in table:
        paths.setdefault(address.path, {})[address.method.lower()] = _operation(address)
    return {
        "openapi": "3.1.0",
        "info": {"title": "cakewatch", "version": version, "description": _ABOUT},
        "paths": paths,
        "components": {"securitySchemes": dict(_SCHEMES)},
    }


def markdown(table: Iterable[Address]) -> str:
    """The table for people, as Markdown, in the order of the paths."""
    rows = [
        f"| `{one.method} {one.path}` | {_WHO[one.right]} | {one.says.replace('|', '/')} |"
        for one in sorted(table, key=lambda one: (one.path, one.method))
    ]
    return "\n".join(["| address | who | what |", "|---|---|---|", *rows])


def _operation(address: Address) -> dict[str, Any]:
    told = dict(address.openapi)
    responses = dict(told.pop("responses", {"200": {"description": "the answer"}}))
    if not address.is_page:
        responses = ERROR | responses
    return {"summary": address.says, **told, "responses": responses, "security": _security(address)}


def _security(address: Address) -> list[dict[str, list[str]]]:
    if address.right in (Right.ANYBODY, Right.LINK):
        return []
    session: dict[str, list[str]] = {"session": []}
    if address.method != "GET":
        session["forgery"] = []
    # The empty one stands for the machine itself.
    return [{}, {"token": []}, session]
