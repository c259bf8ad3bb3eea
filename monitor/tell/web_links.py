"""Web links: one-time links that acknowledge, by one person, exactly the alarms that a message was about.

What a link stands for is kept here; its URL holds only 128 bits that nobody can guess, worked out from a key and
the link's number, so that a message which is sent again bears the same link. A link is written down before its
URL is handed out: it works after any kill.
"""

import base64
import hashlib
import hmac
import secrets
from collections.abc import Callable, Iterable
from enum import StrEnum
from typing import NamedTuple

from pydantic import TypeAdapter, ValidationError

#: Links remembered, used and expired ones too; beyond, those go first, then the oldest (our choice).
MOST = 512
#: A message that is sent again gets the same link while so much of its life is left.
_WORTH_REUSING = 0.5


class LinkState(StrEnum):
    """What may be done with a link."""

    GOOD = "good"
    USED = "used"
    EXPIRED = "expired"


class Link(NamedTuple):
    """One link.

    Attributes:
        number: 64 random bits in hexadecimal.
        person: to whom it was sent, and who acknowledges by it.
        alarms: tag and occurrence of each.
        used_utc_s: when it was used; None before.
    """

    number: str
    person: str
    alarms: tuple[tuple[str, str], ...]
    made_utc_s: float
    used_utc_s: float | None = None


_TEXT = TypeAdapter(tuple[Link, ...])


class AckLinks:
    """The links of one site.

    Args:
        key: secret, 16 bytes or more, the same over restarts; with another one no older link is known.
        public_address: how phones reach us, without a slash at its end; empty: no links are made.
        life_s: a link is good for so long, seconds of the wall clock.
        kept: what ``keep`` was given last, by this daemon or the one before; what cannot be read is dropped.
        keep: writes the links down, and returns only once they are on the disk.
    """

    def __init__(
        self,
        key: bytes,
        public_address: str,
        life_s: float,
        kept: str = "",
        keep: Callable[[str], None] | None = None,
    ) -> None:
        self._key = key
        self._public_address = public_address
        self._life_s = life_s
        self._keep = keep
        self._links = {self._digest(self.token(one)): one for one in _read(kept)}

    def __len__(self) -> int:
        return len(self._links)

    def make(self, person: str, alarms: Iterable[tuple[str, str]], now_utc_s: float) -> str:
        """The URL by which this person acknowledges these alarms; empty where no phone can reach us.

        Args:
            person: a name of the site file.
            alarms: tag and occurrence of each.
            now_utc_s: this moment, Unix seconds.
        """
        wanted = tuple((tag, occurrence) for tag, occurrence in alarms)
        if not self._public_address or not wanted:
            return ""
        link = self._same(person, wanted, now_utc_s)
        if link is None:
            link = Link(secrets.token_hex(8), person, wanted, now_utc_s)
            self._make_room(now_utc_s)
            self._links[self._digest(self.token(link))] = link
            self._write()
        return f"{self._public_address}/ack/{self.token(link)}"

    def find(self, token: str) -> Link | None:
        """The link of this token; None where there is none."""
        # Looked up by its digest: how long that takes tells nothing of the tokens that there are.
        return self._links.get(self._digest(token))

    def state(self, link: Link, now_utc_s: float) -> LinkState:
        """What may be done with it; one from a clock that was ahead counts as expired."""
        if link.used_utc_s is not None:
            return LinkState.USED
        is_young = -self._life_s < now_utc_s - link.made_utc_s < self._life_s
        return LinkState.GOOD if is_young else LinkState.EXPIRED

    def use_up(self, link: Link, now_utc_s: float) -> None:
        """It was used, and is good for nothing from now on."""
        key = self._digest(self.token(link))
        if key in self._links:
            self._links[key] = link._replace(used_utc_s=now_utc_s)
            self._write()

    def token(self, link: Link) -> str:
        """What stands in the URL of this link: 22 characters."""
        digest = hmac.digest(self._key, f"cakewatch/ack/{link.number}".encode(), "sha256")
        return base64.urlsafe_b64encode(digest[:16]).rstrip(b"=").decode()

    def _same(self, person: str, alarms: tuple[tuple[str, str], ...], now_utc_s: float) -> Link | None:
        for one in self._links.values():
            age_s = now_utc_s - one.made_utc_s
            is_fresh = one.used_utc_s is None and 0 <= age_s < self._life_s * _WORTH_REUSING
            if is_fresh and (one.person, one.alarms) == (person, alarms):
                return one
        return None

    def _make_room(self, now_utc_s: float) -> None:
        if len(self._links) >= MOST:
            _, going = min(
                self._links.items(),
                key=lambda item: (self.state(item[1], now_utc_s) is LinkState.GOOD, item[1].made_utc_s),
            )
            del self._links[self._digest(self.token(going))]

    def _write(self) -> None:
        if self._keep is not None:
            self._keep(_TEXT.dump_json(tuple(self._links.values())).decode())

    @staticmethod
    def _digest(token: str) -> bytes:
        return hashlib.sha256(token.encode("utf-8", "surrogatepass")).digest()


def _read(kept: str) -> tuple[Link, ...]:
    if not kept:
        return ()
    try:
        return _TEXT.validate_json(kept)
    except ValidationError:
        return ()
