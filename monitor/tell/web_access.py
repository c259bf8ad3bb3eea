"""Web access: who may bring commands to the HTTP address.

On the machine itself and without a secret: only what no page in a browser can send. Such a page is kept out by its
``Origin``, by a ``Content-Type`` that it may not use without asking first, and, where its name was made to point
here (DNS rebinding), by the ``Host`` it believes to talk to. Whatever came through a proxy may come from anywhere;
one on this machine that adds no header of its own cannot be told from the machine itself, and where such a one
stands, the site file must say ``machine: none``. From elsewhere: with a person's secret alone.
"""

import hashlib
import hmac
import ipaddress
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from monitor.tell.command_form import Origin
from monitor.tell.command_rate import Bucket
from monitor.words import AnswerCode, Door

#: Wrong secrets from one place: so many at once, then one in so many seconds (our choice).
GUESSES = 10
GUESS_EVERY_S = 6.0
#: Places remembered; where they are more, the newcomers share one count.
MOST_PLACES = 256

#: All values of one header, in the order they came; none where it is absent.
Headers = Callable[[str], list[str]]

_FORWARDED = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")
_LOOPBACK_NAMES = frozenset({"localhost", "ip6-localhost"})
_CHALLENGE: Mapping[str, str] = {"WWW-Authenticate": 'Bearer realm="cakewatch"'}
_HOW = "send it as Authorization: Bearer TOKEN; the site file names whose tokens are taken (commands.people)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why a request is turned away before its command is read."""

    status: int
    code: AnswerCode
    text: str
    headers: Mapping[str, str] = field(default_factory=dict)


class Access:
    """Judges each request; remembers nothing but wrong secrets.

    Args:
        tokens: the secret of each person, by name.
        names: host names and addresses under which it listens.
    """

    def __init__(self, tokens: Mapping[str, str], names: Iterable[str]) -> None:
        self._digests = {name: _digest(secret) for name, secret in tokens.items() if secret}
        self._names = frozenset(name.casefold() for name in names if not _is_unspecified(name))
        self._guesses = Guesses()

    def judge(self, peer: str | None, headers: Headers, now_s: float) -> Origin | Refusal:
        """Who is asking, or why they are turned away.

        Args:
            peer: the address at the other end of the connection; None where that is not known any more.
            headers: of the request.
            now_s: seconds of any clock that never steps back.
        """
        shown = headers("authorization")
        if shown:
            return self._judge_secret(shown, _place(peer), now_s)
        return self._why_not_from_here(peer, headers) or Origin(door=Door.HTTP)

    def _judge_secret(self, shown: list[str], place: str, now_s: float) -> Origin | Refusal:
        wait_s = self._guesses.wait_s(place, now_s)
        if wait_s > 0:
            text = f"too many wrong tokens came from there; try again in {round(wait_s) + 1} s"
            after = {"Retry-After": str(round(wait_s) + 1)}
            return Refusal(status=429, code=AnswerCode.TOO_MANY, text=text, headers=after)
        person = self._person(shown)
        if person is not None:
            return Origin(door=Door.HTTP, person=person)
        self._guesses.note(place, now_s)
        text = f"this is nobody's token; {_HOW}"
        return Refusal(status=401, code=AnswerCode.UNKNOWN_PERSON, text=text, headers=_CHALLENGE)

    def _person(self, shown: list[str]) -> str | None:
        scheme, _, secret = shown[0].partition(" ")
        if len(shown) != 1 or scheme.casefold() != "bearer" or not secret.strip():
            return None
        digest = _digest(secret.strip())
        # Every one is compared, and in constant time: how long it takes tells nothing of the secrets.
        found = [name for name, known in self._digests.items() if hmac.compare_digest(known, digest)]
        return found[0] if found else None

    def _why_not_from_here(self, peer: str | None, headers: Headers) -> Refusal | None:
        if not is_loopback(peer):
            text = f"from another machine a command needs a person's token; {_HOW}"
            return Refusal(status=401, code=AnswerCode.NOT_ALLOWED, text=text, headers=_CHALLENGE)
        if any(headers(name) for name in _FORWARDED):
            return _forbidden(f"what comes through a proxy needs a person's token; {_HOW}")
        host = headers("host")
        if len(host) != 1 or not self._is_ours(host[0]):
            return _forbidden("the Host of the request is none of this machine's own; use 127.0.0.1 or localhost")
        if headers("sec-fetch-site") not in ([], ["same-origin"], ["none"]) or not _is_same(
            headers("origin"), host[0]
        ):
            return _forbidden("a page of another site may not send commands here; use our own page, or a token")
        return None

    def _is_ours(self, host: str) -> bool:
        name = _name_in(host)
        return name is not None and (name in self._names or name in _LOOPBACK_NAMES or is_loopback(name))


class Guesses:
    """Counts wrong secrets by the place they came from; its memory is bounded."""

    def __init__(self) -> None:
        self._places: dict[str, Bucket] = {}

    def __len__(self) -> int:
        return len(self._places)

    def wait_s(self, place: str, now_s: float) -> float:
        """Seconds until a secret from there is looked at again; 0 for now."""
        bucket = self._places.get(self._key(place))
        return 0.0 if bucket is None else bucket.wait_s(now_s)

    def note(self, place: str, now_s: float) -> None:
        """A wrong one came from there."""
        if len(self._places) >= MOST_PLACES:
            self._places = {
                one: bucket for one, bucket in self._places.items() if bucket.level_at(now_s) < GUESSES
            }
        key = self._key(place)
        bucket = self._places.get(key) or Bucket.full(GUESSES, 1 / GUESS_EVERY_S, now_s)
        self._places[key] = bucket.take(now_s) or bucket

    def _key(self, place: str) -> str:
        # Nobody's count is dropped for a newcomer: many addresses would then be as good as no count.
        return place if place in self._places or len(self._places) < MOST_PLACES else ""


def is_loopback(address: str | None) -> bool:
    """Whether this is an address of the machine itself, IPv4 within IPv6 too."""
    try:
        found = ipaddress.ip_address(address or "")
    except ValueError:
        return False
    mapped = getattr(found, "ipv4_mapped", None)
    return (mapped or found).is_loopback


def is_json(headers: Headers) -> bool:
    """Whether the request says that it brings JSON (which a page elsewhere may not say without asking first)."""
    kinds = headers("content-type")
    return len(kinds) == 1 and kinds[0].partition(";")[0].strip().casefold() == "application/json"


def _forbidden(text: str) -> Refusal:
    return Refusal(status=403, code=AnswerCode.NOT_ALLOWED, text=text)


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).digest()


def _is_unspecified(name: str) -> bool:
    """Whether this means any address (0.0.0.0, ::): a page may reach us by it, and it is nobody's name."""
    try:
        return ipaddress.ip_address(name).is_unspecified
    except ValueError:
        return not name


def _place(peer: str | None) -> str:
    """Who is counted as one: an IPv4 address, or the /64 that one IPv6 subscriber has."""
    try:
        found = ipaddress.ip_address(peer or "")
    except ValueError:
        return peer or ""
    if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is None:
        return str(ipaddress.ip_network((int(found) >> 64 << 64, 64)))
    return str(found)


def _name_in(host: str) -> str | None:
    """The name in a ``Host`` header, without port and brackets."""
    try:
        parts = urlsplit(f"//{host}")
        has_more = parts.path or parts.query or parts.fragment or parts.username is not None
        return None if has_more or parts.port == 0 else parts.hostname
    except ValueError:
        return None


def _is_same(origins: list[str], host: str) -> bool:
    """Whether the request comes from no page, or from one of our own."""
    if not origins:
        return True
    return len(origins) == 1 and origins[0].casefold() == f"http://{host}".casefold()
