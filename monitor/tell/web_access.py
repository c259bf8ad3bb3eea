"""Web access: who is asking at the HTTP address, and whether they may.

On the machine itself and without a secret: only what no page in a browser can send. Such a page is kept out by its
``Origin``, by a ``Content-Type`` that it may not use without asking first, and, where its name was made to point
here (DNS rebinding), by the ``Host`` it believes to talk to. Whatever came through a proxy may come from anywhere;
one on this machine that adds no header of its own cannot be told from the machine itself, and where such a one
stands, the site file must say ``machine: none``. From elsewhere: with a person's token or session alone.

A browser sends a session's cookie by itself, so what changes something must also repeat the session's token in
``X-Cakewatch-Token``. Nobody else's page can read that, or write that header here.
"""

import hashlib
import hmac
from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.tell.web_names import Names
from monitor.tell.web_places import Guesses, Headers, came_through_proxy, is_loopback, place
from monitor.tell.web_sessions import Session, Sessions, csrf_of
from monitor.tell.web_table import How, Right, Visitor
from monitor.words import AnswerCode

CSRF_HEADER = "x-cakewatch-token"
NOBODY = Visitor(how=How.NOBODY)
#: RFC 9110 §11.6.1 wants one with every 401; browsers show no window of their own for this one.
CHALLENGE: Mapping[str, str] = {"WWW-Authenticate": 'Bearer realm="cakewatch"'}
_HOW = "log in, or send a person's token as Authorization: Bearer TOKEN (site file: commands.people)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why a request is turned away before anything of it is looked at."""

    status: int
    code: AnswerCode
    text: str
    headers: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is known of a request before its right is judged.

    Attributes:
        peer: the address at the other end of the connection; None where that is not known any more.
        changes: it would change something (any method but GET and HEAD).
        now_s: seconds of any clock that never steps back.
    """

    peer: str | None
    headers: Headers
    is_tls: bool = False
    changes: bool = False
    now_s: float = 0.0
    now_utc_s: float = 0.0


class Access:
    """Judges each request.

    Args:
        tokens: the secret of each person, by name.
        names: what we are called.
        sessions: who has logged in.
        cookie: the name of the session's cookie.
    """

    def __init__(self, tokens: Mapping[str, str], names: Names, sessions: Sessions, cookie: str) -> None:
        self._digests = {name: _digest(secret) for name, secret in tokens.items() if secret}
        self._names = names
        self._sessions = sessions
        self._cookie = cookie
        self._guesses = Guesses()

    def judge(self, right: Right, asked: Asked) -> Visitor | Refusal:
        """Who is asking, or why they are turned away; who needs no right is let in as nobody."""
        found = self._who(asked)
        if isinstance(found, Refusal) and right in (Right.ANYBODY, Right.LINK):
            return NOBODY
        return found

    def lasts(self, visitor: Visitor, now_utc_s: float) -> bool:
        """Whether this visitor, who was let in before, still would be; an open stream uses its session."""
        return visitor.how is not How.SESSION or self._sessions.use(visitor.session, now_utc_s) is not None

    def _who(self, asked: Asked) -> Visitor | Refusal:
        shown = asked.headers("authorization")
        if shown:
            return self._by_token(shown, asked)
        for secret in cookies(asked.headers, self._cookie):
            session = self._sessions.find(secret, asked.now_utc_s)
            if session is not None:
                return self._by_session(secret, session, asked)
        return self._why_not_from_here(asked) or Visitor(how=How.MACHINE)

    def _by_token(self, shown: list[str], asked: Asked) -> Visitor | Refusal:
        where = place(asked.peer, asked.headers)
        wait_s = self._guesses.wait_s(where, asked.now_s)
        if wait_s > 0:
            text = f"too many wrong tokens came from there; try again in {round(wait_s) + 1} s"
            return too_many(text, wait_s)
        person = self._person(shown)
        if person is not None:
            return Visitor(person=person, how=How.TOKEN)
        self._guesses.note(where, asked.now_s)
        text = f"this is nobody's token; {_HOW}"
        return Refusal(status=401, code=AnswerCode.UNKNOWN_PERSON, text=text, headers=CHALLENGE)

    def _person(self, shown: list[str]) -> str | None:
        scheme, _, secret = shown[0].partition(" ")
        if len(shown) != 1 or scheme.casefold() != "bearer" or not secret.strip():
            return None
        digest = _digest(secret.strip())
        # Every one is compared, and in constant time: how long it takes tells nothing of the secrets.
        found = [name for name, known in self._digests.items() if hmac.compare_digest(known, digest)]
        return found[0] if found else None

    def _by_session(self, secret: str, session: Session, asked: Asked) -> Visitor | Refusal:
        if not self._names.is_ours(asked.headers("host")):
            return _forbidden("the Host of the request is none of ours; http.public_address must name it")
        csrf = csrf_of(secret)
        if not self._names.is_own_page(asked.headers, asked.is_tls):
            return _forbidden("a page of another site may ask for nothing here; use our own page")
        if asked.changes and not _repeats(asked.headers(CSRF_HEADER), csrf):
            return _forbidden("the request does not repeat its session's X-Cakewatch-Token; load the page anew")
        return Visitor(person=session.person, session=session.digest, how=How.SESSION, csrf=csrf)

    def _why_not_from_here(self, asked: Asked) -> Refusal | None:
        headers = asked.headers
        if not is_loopback(asked.peer):
            return _log_in(f"from another machine nothing is open without a right; {_HOW}")
        if came_through_proxy(headers):
            return _log_in(f"what comes through a proxy may come from anywhere; {_HOW}")
        host = headers("host")
        if not self._names.is_machine(host):
            if self._names.is_ours(host):
                return _log_in(f"under this name it is reached from elsewhere too; {_HOW}")
            return _forbidden("the Host of the request is none of this machine's own; use 127.0.0.1 or localhost")
        if not self._names.is_own_page(headers, asked.is_tls, is_public=False):
            return _forbidden("a page of another site may ask for nothing here; use our own page, or a token")
        return None


def cookies(headers: Headers, name: str) -> list[str]:
    """Every value that came under this name; a browser may send more than one."""
    pairs = [pair.strip().partition("=") for line in headers("cookie") for pair in line.split(";")]
    return [value for key, _, value in pairs if key == name and value]


def is_json(headers: Headers) -> bool:
    """Whether the request says that it brings JSON (which a page elsewhere may not say without asking first)."""
    kinds = headers("content-type")
    return len(kinds) == 1 and kinds[0].partition(";")[0].strip().casefold() == "application/json"


def too_many(text: str, wait_s: float) -> Refusal:
    """The refusal of whoever has to wait."""
    after = {"Retry-After": str(round(wait_s) + 1)}
    return Refusal(status=429, code=AnswerCode.TOO_MANY, text=text, headers=after)


def _log_in(text: str) -> Refusal:
    return Refusal(status=401, code=AnswerCode.NOT_ALLOWED, text=text, headers=CHALLENGE)


def _forbidden(text: str) -> Refusal:
    return Refusal(status=403, code=AnswerCode.NOT_ALLOWED, text=text)


def _repeats(shown: list[str], csrf: str) -> bool:
    return len(shown) == 1 and hmac.compare_digest(shown[0].encode("utf-8", "replace"), csrf.encode())


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).digest()
