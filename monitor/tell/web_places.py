"""Web places: where a request comes from, by its connection and its headers, and how many wrong secrets came.

A header that anybody can write never gives a right. It does tell, where a proxy on this machine writes it, who is
to be counted as one guesser: else a single one would use up what the proxy's address allows for everybody.
"""

import ipaddress
from collections.abc import Callable
from dataclasses import replace

from monitor.tell.command_rate import Bucket

#: Wrong secrets from one place: so many at once, then one in so many seconds (our choice).
GUESSES = 10
GUESS_EVERY_S = 6.0
#: Places remembered; where they are more, the newcomers share one count.
MOST_PLACES = 256

#: All values of one header, in the order they came; none where it is absent.
Headers = Callable[[str], list[str]]

_FORWARDED = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")


class Guesses:
    """Counts wrong secrets by the place they came from; its memory is bounded."""

    def __init__(self, brim: float = GUESSES, every_s: float = GUESS_EVERY_S) -> None:
        self._brim = brim
        self._every_s = every_s
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
                one: bucket for one, bucket in self._places.items() if bucket.level_at(now_s) < self._brim
            }
        key = self._key(place)
        bucket = self._places.get(key) or Bucket.full(self._brim, 1 / self._every_s, now_s)
        self._places[key] = bucket.take(now_s) or bucket

    def forgive(self, place: str, now_s: float) -> None:
        """One that was noted was right after all."""
        key = self._key(place)
        bucket = self._places.get(key)
        if bucket is not None:
            self._places[key] = replace(bucket, level=bucket.level_at(now_s) + 1.0, at_s=now_s)

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


def came_through_proxy(headers: Headers) -> bool:
    """Whether a proxy says that it handed this on."""
    return any(headers(name) for name in _FORWARDED)


def place(peer: str | None, headers: Headers) -> str:
    """Who is counted as one: an IPv4 address, or the /64 that one IPv6 subscriber has.

    Behind a proxy on this machine, the address which that proxy added last to ``X-Forwarded-For``.
    """
    named = headers("x-forwarded-for")
    if named and is_loopback(peer):
        return _subscriber(named[-1].rpartition(",")[2].strip()[:64])
    return _subscriber(peer or "")


def _subscriber(address: str) -> str:
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is None:
        return str(ipaddress.ip_network((int(found) >> 64 << 64, 64)))
    return str(found)
