"""Web login: who somebody is, logging in with a password, and out again.

Wrong passwords are counted by the place they come from, and by the name they are tried for. The second count never
locks the real person out: it does not hold on the machine itself, nor where that person has logged in from before.
"""

import hashlib
import json
import secrets
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response

from monitor.tell.command_fields import LONGEST_NAME
from monitor.tell.web_access import CHALLENGE, Refusal, cookies, is_json, too_many
from monitor.tell.web_asking import announced_bytes, error, peer_of, refuse
from monitor.tell.web_body import Unfit, read_body
from monitor.tell.web_guard import Clocks
from monitor.tell.web_names import Names
from monitor.tell.web_passwords import LONGEST, Passwords
from monitor.tell.web_places import Guesses, came_through_proxy, is_loopback, place
from monitor.tell.web_schemas import ERROR, LOGGED_IN, ME, login_body
from monitor.tell.web_sessions import LONGEST_S, Sessions, csrf_of
from monitor.tell.web_table import Address, How, Right, Visitor
from monitor.words import AnswerCode, CommandKind

#: What a person may ask for; of the empty name: whoever is on the machine itself.
May = Callable[[str], Iterable[CommandKind]]

#: Wrong passwords for one name from places unknown: so many at once, then one in so many seconds (our choice).
GUESSES_OF_ONE = 30
GUESS_OF_ONE_EVERY_S = 10.0
MOST_BYTES = 4096
_SLOTS = 64
_HERE = "here"

_WRONG = "wrong name or password"
_ELSEWHERE = "a page of another site may not log anybody in here; use our own page"
_NOT_OURS = (
    "the Host of the request is none of ours; use the public address, or name this one as http.public_address"
)
_CLEAR = "no password is taken over the open wire; use the address that begins with https"
_NOBODY_CAN = "nobody can log in here: the site file gives no person a password (commands.people)"
_BUSY = "too many people are logging in at this moment; try again in 2 s"
_BODY_WANTED = 'a login is one JSON object with "person" and "password", sent as Content-Type: application/json'


@dataclass(frozen=True, slots=True, kw_only=True)
class CookieForm:
    """The session's cookie; ``__Host-`` binds it to us alone, and wants TLS (RFC 6265bis)."""

    is_secure: bool

    @property
    def name(self) -> str:
        """What it is called."""
        return "__Host-cakewatch" if self.is_secure else "cakewatch"

    def header(self, secret: str, life_s: float) -> str:
        """The ``Set-Cookie`` line; an empty secret takes it away."""
        secure = "; Secure" if self.is_secure else ""
        return f"{self.name}={secret}; Path=/; Max-Age={life_s:.0f}; HttpOnly; SameSite=Strict{secure}"


class Logins:
    """The addresses for logging in and out.

    Args:
        sessions: who has logged in.
        passwords: checks them; None where nobody has one.
        people: who may log in.
        clocks: the times that are asked for.
    """

    def __init__(
        self,
        sessions: Sessions,
        passwords: Passwords | None,
        people: Iterable[str],
        names: Names,
        cookie: CookieForm,
        may: May,
        clocks: Clocks,
    ) -> None:
        self._sessions = sessions
        self._passwords = passwords
        self._people = frozenset(people)
        self._names = names
        self._cookie = cookie
        self._may = may
        self._now_s, self._utc_s = clocks.now_s, clocks.utc_s
        self._by_place = Guesses()
        self._by_name = Guesses(GUESSES_OF_ONE, GUESS_OF_ONE_EVERY_S)
        self._key = secrets.token_bytes(16)

    def addresses(self) -> tuple[Address, ...]:
        """Who am I, log in, log out."""
        return (
            Address(
                method="GET",
                path="/api/v1/me",
                right=Right.ANYBODY,
                says="who you are, what you may do, and whether you must log in",
                handler=self._me,
                openapi={"responses": ME},
            ),
            Address(
                method="POST",
                path="/api/v1/login",
                right=Right.ANYBODY,
                says="log in with name and password; the answer sets a cookie",
                handler=self._login,
                openapi={"requestBody": login_body(LONGEST_NAME, LONGEST), "responses": LOGGED_IN},
            ),
            Address(
                method="POST",
                path="/api/v1/logout",
                right=Right.LOOK,
                says="log out: the session is void at once",
                handler=self._logout,
                openapi={"responses": {"204": {"description": "logged out, or never was in"}} | ERROR},
            ),
        )

    async def _me(self, _request: Request, visitor: Visitor) -> Response:
        told = {
            "person": visitor.person,
            "how": visitor.how.value,
            "may": self._allowed(visitor),
            "login_needed": not visitor.may_look,
            "can_login": self._passwords is not None,
            "csrf": visitor.csrf or None,
        }
        return JSONResponse(told)

    async def _login(self, request: Request, _visitor: Visitor) -> Response:
        refusal = self._why_not(request)
        if refusal is not None:
            return refuse(refusal)
        try:
            pieces, size = request.stream(), announced_bytes(request)
            body = await read_body(pieces, size, MOST_BYTES, "a login")
        except ClientDisconnect:
            return Response(status_code=400)  # nobody is left to read it
        if isinstance(body, Unfit):
            return error(body.status, body.text, body.headers)
        given = _name_and_password(body)
        return error(400, _BODY_WANTED) if given is None else await self._check(request, *given)

    async def _logout(self, _request: Request, visitor: Visitor) -> Response:
        self._sessions.end(visitor.session)
        return Response(status_code=204, headers={"set-cookie": self._cookie.header("", 0)})

    def _why_not(self, request: Request) -> Refusal | None:
        headers = request.headers.getlist
        if not self._names.is_ours(headers("host")):
            return Refusal(status=403, code=AnswerCode.NOT_ALLOWED, text=_NOT_OURS)
        if not self._names.is_own_page(headers, _is_tls(request)):
            return Refusal(status=403, code=AnswerCode.NOT_ALLOWED, text=_ELSEWHERE)
        if self._cookie.is_secure and _is_in_the_clear(request):
            return Refusal(status=403, code=AnswerCode.NOT_ALLOWED, text=_CLEAR)
        if not is_json(headers):
            return Refusal(status=415, code=AnswerCode.MALFORMED, text=_BODY_WANTED)
        if self._passwords is None:
            return Refusal(status=403, code=AnswerCode.NOT_ALLOWED, text=_NOBODY_CAN)
        return None

    async def _check(self, request: Request, person: str, password: str) -> Response:
        assert self._passwords is not None  # noqa: S101  _why_not has looked
        where = self._place(request)
        refusal = self._must_wait(person, where)
        if refusal is not None:
            return refuse(refusal)
        # Counted before the check, or as many as can wait would be free.
        counts = self._note(person, where)
        if not await self._passwords.is_right(person, password):
            return error(401, _WRONG, CHALLENGE)
        for guesses, key in counts:
            guesses.forgive(key, self._now_s())
        for old in cookies(request.headers.getlist, self._cookie.name):
            self._sessions.end_of(old)
        return self._let_in(person, self._sessions.open(person, where, self._utc_s()))

    def _let_in(self, person: str, secret: str) -> Response:
        visitor = Visitor(person=person, how=How.SESSION)
        told = {"person": person, "may": self._allowed(visitor), "csrf": csrf_of(secret)}
        return JSONResponse(told, headers={"set-cookie": self._cookie.header(secret, LONGEST_S)})

    def _must_wait(self, person: str, where: str) -> Refusal | None:
        assert self._passwords is not None  # noqa: S101  _why_not has looked
        now_s = self._now_s()
        wait_s = self._by_place.wait_s(where, now_s)
        if wait_s == 0 and not self._is_at_home(person, where):
            wait_s = self._by_name.wait_s(self._slot(person), now_s)
        if wait_s > 0:
            return too_many(f"too many logins were tried; try again in {round(wait_s) + 1} s", wait_s)
        return too_many(_BUSY, 1.0) if self._passwords.is_busy else None

    def _note(self, person: str, where: str) -> list[tuple[Guesses, str]]:
        """Count this try; returns where it was counted, to be forgiven if it was right."""
        counts = [(self._by_place, where)]
        if not self._is_at_home(person, where):
            counts.append((self._by_name, self._slot(person)))
        for guesses, key in counts:
            guesses.note(key, self._now_s())
        return counts

    def _is_at_home(self, person: str, where: str) -> bool:
        return where == _HERE or self._sessions.is_known(person, where)

    def _place(self, request: Request) -> str:
        """Who is counted as one."""
        peer, headers = peer_of(request), request.headers.getlist
        is_here = is_loopback(peer) and not came_through_proxy(headers) and self._names.is_machine(headers("host"))
        return _HERE if is_here else place(peer, headers)

    def _slot(self, person: str) -> str:
        """Where tries for this name are counted; made-up names share a few, so that they crowd out no real one."""
        if person in self._people:
            return person
        digest = hashlib.blake2b(person.encode("utf-8", "replace"), key=self._key, digest_size=2).digest()
        return f"/{int.from_bytes(digest, 'big') % _SLOTS}"

    def _allowed(self, visitor: Visitor) -> list[str]:
        if not visitor.may_look:
            return []
        found = set(self._may(visitor.person))
        return [kind.value for kind in CommandKind if kind in found]


def _is_tls(request: Request) -> bool:
    return request.scope.get("scheme") == "https"


def _is_in_the_clear(request: Request) -> bool:
    """Whether this crossed a wire as it is: no TLS of ours, and no proxy that may have had its own."""
    is_near = is_loopback(peer_of(request)) or came_through_proxy(request.headers.getlist)
    return not _is_tls(request) and not is_near


def _name_and_password(body: bytes) -> tuple[str, str] | None:
    try:
        given: Any = json.loads(body)
        person, password = given["person"], given["password"]
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    fits = isinstance(person, str) and isinstance(password, str) and set(given) == {"person", "password"}
    return (person, password) if fits and len(person) <= LONGEST_NAME and len(password) <= LONGEST else None
