"""Web table: every address that is served, who may use it, who answers: one list for routing, tests and papers."""

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from starlette.requests import Request
from starlette.responses import Response


class Right(StrEnum):
    """What a visitor must have.

    ``ANYBODY``: nothing. ``LOOK``: to be on this machine itself, or a session, or a token. ``OPERATE``: the same,
    and each command is judged by what that person may do. ``LINK``: the one-time link that was sent.
    """

    ANYBODY = "anybody"
    LOOK = "look"
    OPERATE = "operate"
    LINK = "link"


class How(StrEnum):
    """By what a visitor is known.

    ``NOBODY``: by nothing (``ANYBODY`` and ``LINK`` addresses alone let them in). ``MACHINE``: is on this machine
    itself. ``SOCKET``: came through the control socket, whose file's rights say who may.
    """

    NOBODY = "nobody"
    MACHINE = "machine"
    SOCKET = "socket"
    SESSION = "session"
    TOKEN = "token"  # noqa: S105  no password, but what one is known by


@dataclass(frozen=True, slots=True, kw_only=True)
class Visitor:
    """Who is asking.

    Attributes:
        person: as proven by a session or a token; empty on the machine itself without either.
        session: what it is kept under, for logging out; empty without one. Not the secret in the cookie.
        how: by what they are known.
        csrf: what a request that changes something must repeat; empty without a session.
    """

    person: str = ""
    session: str = ""
    how: How = How.MACHINE
    csrf: str = ""

    @property
    def may_look(self) -> bool:
        """Whether they may see what ``LOOK`` addresses show."""
        return self.how is not How.NOBODY


Handler = Callable[[Request, Visitor], Awaitable[Response]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """One address.

    Attributes:
        path: with ``{name}`` for a part that varies.
        says: what it does, one line for people and the OpenAPI document.
        openapi: the rest of its operation object there: parameters, requestBody, responses.
        is_page: a browser shows it, so it gets a policy for content and never a challenge for a token.
        lasts: the answer has no end of its own (a stream); it ends with the visitor's session, and at the stop.
    """

    method: str
    path: str
    right: Right
    says: str
    handler: Handler
    openapi: Mapping[str, Any] = field(default_factory=dict)
    is_page: bool = False
    lasts: bool = False
