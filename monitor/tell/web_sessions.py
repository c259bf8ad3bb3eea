"""Web sessions: who has logged in, and until when.

The browser has a random number of 256 bits; what is kept is its SHA-256, so whoever reads the store can log in as
nobody. A session is void once its person is taken from the site file or has another password. It counts by the
wall clock, because it outlives the daemon; a clock that was set back by more than a day voids what is from then.
"""

import base64
import hashlib
import hmac
import secrets
from collections.abc import Callable, Mapping
from typing import NamedTuple

from pydantic import TypeAdapter, ValidationError

#: However much it is used, a session ends so long after the login, seconds (our choice).
LONGEST_S = 7 * 86400.0
#: Sessions of one person, and of all: beyond, the one that was used the longest ago goes (our choice).
MOST_OF_ONE = 16
MOST = 256
#: When it was last used is written down at most this often, seconds.
_WRITTEN_EVERY_S = 300.0
_CLOCK_MAY_BE_OFF_S = 86400.0
_COOKIE_SIZE = 43


class Session(NamedTuple):
    """One login.

    Attributes:
        digest: SHA-256 of what the cookie holds, in hexadecimal.
        password: a digest of the password's hash with which it was opened.
        place: from where it was opened.
    """

    digest: str
    person: str
    password: str
    place: str
    created_utc_s: float
    used_utc_s: float


_TEXT = TypeAdapter(tuple[Session, ...])


class Sessions:
    """The sessions of one site.

    Args:
        hashes: the password's hash of each person who may log in.
        life_s: a session ends so long after it was last used.
        kept: what ``keep`` was given last, by this daemon or the one before; what cannot be read is dropped.
        keep: writes the sessions down; called when somebody logs in or out, and now and then while one is used.
    """

    def __init__(
        self, hashes: Mapping[str, str], life_s: float, kept: str = "", keep: Callable[[str], None] | None = None
    ) -> None:
        self._passwords = {person: _digest(hashed)[:16] for person, hashed in hashes.items()}
        self._life_s = life_s
        self._keep = keep
        self._sessions = {one.digest: one for one in _read(kept) if self._has_password(one)}
        self._written_utc_s = {one.digest: one.used_utc_s for one in self._sessions.values()}

    def __len__(self) -> int:
        return len(self._sessions)

    def open(self, person: str, place: str, now_utc_s: float) -> str:
        """Log this person in; returns what the cookie holds."""
        secret = secrets.token_urlsafe(32)
        digest = _digest(secret)
        self._drop_dead(now_utc_s)
        self._make_room(person)
        password = self._passwords[person]
        self._sessions[digest] = Session(digest, person, password, place, now_utc_s, now_utc_s)
        self._write()
        return secret

    def find(self, secret: str, now_utc_s: float) -> Session | None:
        """The session of this cookie, which is used by that; None where there is none any more."""
        return self.use(_digest(secret), now_utc_s) if len(secret) == _COOKIE_SIZE else None

    def use(self, digest: str, now_utc_s: float) -> Session | None:
        """The session that is kept under this digest, which is used by that; None where there is none any more."""
        found = self._sessions.get(digest)
        if found is None:
            return None
        if not self._is_alive(found, now_utc_s):
            self.end(digest)
            return None
        found = self._sessions[digest] = found._replace(used_utc_s=now_utc_s)
        if abs(now_utc_s - self._written_utc_s.get(digest, 0.0)) >= _WRITTEN_EVERY_S:
            self._write()
        return found

    def end(self, digest: str) -> None:
        """Log out; nothing happens where it has ended already."""
        if self._sessions.pop(digest, None) is not None:
            self._write()

    def end_of(self, secret: str) -> None:
        """Log out whoever has this cookie."""
        self.end(_digest(secret))

    def is_known(self, person: str, place: str) -> bool:
        """Whether this person has a session that was opened from that place."""
        return any(one.person == person and one.place == place for one in self._sessions.values())

    def _is_alive(self, one: Session, now_utc_s: float) -> bool:
        age_s = now_utc_s - one.created_utc_s
        return -_CLOCK_MAY_BE_OFF_S < age_s < LONGEST_S and now_utc_s - one.used_utc_s < self._life_s

    def _has_password(self, one: Session) -> bool:
        return self._passwords.get(one.person) == one.password

    def _drop_dead(self, now_utc_s: float) -> None:
        self._sessions = {key: one for key, one in self._sessions.items() if self._is_alive(one, now_utc_s)}

    def _make_room(self, person: str) -> None:
        own = [one for one in self._sessions.values() if one.person == person]
        if len(own) >= MOST_OF_ONE:
            del self._sessions[min(own, key=_last_used).digest]
        if len(self._sessions) >= MOST:
            del self._sessions[min(self._sessions.values(), key=_last_used).digest]

    def _write(self) -> None:
        self._written_utc_s = {one.digest: one.used_utc_s for one in self._sessions.values()}
        if self._keep is not None:
            self._keep(_TEXT.dump_json(tuple(self._sessions.values())).decode())


def csrf_of(secret: str) -> str:
    """What a request of this session must repeat to change anything: no page elsewhere can know it."""
    digest = hmac.digest(secret.encode("utf-8", "surrogatepass"), b"X-Cakewatch-Token", "sha256")
    return base64.urlsafe_b64encode(digest[:24]).decode()


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def _last_used(one: Session) -> float:
    return one.used_utc_s


def _read(kept: str) -> tuple[Session, ...]:
    if not kept:
        return ()
    try:
        return _TEXT.validate_json(kept)
    except ValidationError:  # everybody logs in anew; nothing else is lost
        return ()
