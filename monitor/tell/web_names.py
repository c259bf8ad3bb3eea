"""Web names: under which names we are reached, and whether a page that asks is one of our own.

A page elsewhere may have its name point here (DNS rebinding), and then believes to talk to its own server. Its
``Host`` gives it away: that name is none of ours. An address in numbers cannot be rebound.
"""

import ipaddress
from collections.abc import Iterable
from urllib.parse import urlsplit

from monitor.tell.web_places import Headers, is_loopback

_LOOPBACK_NAMES = frozenset({"localhost", "ip6-localhost"})


class Names:
    """What we are called.

    Args:
        hosts: host names and addresses under which it listens.
        public_address: how people elsewhere reach it, ``https://dp.alder-mill.example``; empty where they do not.
    """

    def __init__(self, hosts: Iterable[str], public_address: str = "") -> None:
        self._names = frozenset(name.casefold() for name in hosts if not _is_unspecified(name))
        parts = urlsplit(public_address)
        self._public = (parts.hostname or "").casefold()
        self._public_origin = f"{parts.scheme}://{parts.netloc}".casefold() if public_address else ""

    def is_machine(self, host: list[str]) -> bool:
        """Whether somebody on the machine itself may call it this; a proxy's name is for people elsewhere."""
        name = _name_in(host)
        return name is not None and (name in self._names or name in _LOOPBACK_NAMES or is_loopback(name))

    def is_ours(self, host: list[str]) -> bool:
        """Whether anybody may call it this: also by the public name, or by an address in numbers."""
        name = _name_in(host)
        if name is None:
            return False
        return self.is_machine(host) or name == self._public != "" or _is_address(name)

    def is_own_page(self, headers: Headers, is_tls: bool, *, is_public: bool = True) -> bool:
        """Whether the request comes from no page at all, or from one of our own.

        Args:
            headers: of the request.
            is_tls: it came by https.
            is_public: a page under the public address counts as our own. On the machine itself it does not: what
                says so there came through a proxy that keeps it to itself.
        """
        if headers("sec-fetch-site") not in ([], ["same-origin"], ["none"]):
            return False
        origins, host = headers("origin"), headers("host")
        if not origins:
            return True
        if len(origins) != 1 or len(host) != 1:
            return False
        own = f"{'https' if is_tls else 'http'}://{host[0]}".casefold()
        public = self._public_origin if is_public else ""
        return origins[0].casefold() in {own, public} - {""}


def _name_in(host: list[str]) -> str | None:
    """The name in a ``Host`` header, without port and brackets."""
    if len(host) != 1:
        return None
    try:
        parts = urlsplit(f"//{host[0]}")
        has_more = parts.path or parts.query or parts.fragment or parts.username is not None
        return None if has_more or parts.port == 0 else parts.hostname
    except ValueError:
        return None


def _is_unspecified(name: str) -> bool:
    """Whether this means any address (0.0.0.0, ::): a page may reach us by it, and it is nobody's name."""
    try:
        return ipaddress.ip_address(name).is_unspecified
    except ValueError:
        return not name


def _is_address(name: str) -> bool:
    try:
        return not ipaddress.ip_address(name).is_unspecified
    except ValueError:
        return False
