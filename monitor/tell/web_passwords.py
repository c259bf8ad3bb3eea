"""Web passwords: hashed and checked by Argon2, in a thread of their own, one at a time.

Argon2id with 19 MiB, two rounds and one lane is what the OWASP Password Storage Cheat Sheet asks for at least
(from memory); it fits a small box, and one check at a time keeps it to those 19 MiB. The library is loaded when
it is first needed.
"""

import asyncio
import re
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor

_MEMORY_KIB = 19 * 1024
_ROUNDS = 2
_LANES = 1
#: Checks that may wait for their turn; more than that is a flood (our choice).
MOST_WAITING = 8
#: Shorter ones are not hashed (NIST SP 800-63B asks for 8 at least, from memory); longer ones are no passwords.
SHORTEST = 10
LONGEST = 256

_FORM = re.compile(r"\$argon2(id|i|d)\$v=\d+\$m=\d+,t=\d+,p=\d+\$[A-Za-z0-9+/]+\$[A-Za-z0-9+/]+", re.ASCII)
#: The hash of nothing anybody knows, for names that nobody has.
_NOBODYS = (
    f"$argon2id$v=19$m={_MEMORY_KIB},t={_ROUNDS},p={_LANES}"
    "$bm9ib2R5cyBzYWx0IQ$AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8"
)


def hash_password(text: str) -> str:
    """The hash that the site file may name, of a password of 10 to 256 characters.

    Raises:
        ValueError: a sentence about what is wrong with the password.
    """
    from argon2 import PasswordHasher  # noqa: PLC0415  80 ms and 3 MB that a site without passwords saves

    if not SHORTEST <= len(text) <= LONGEST:
        raise ValueError(f"a password has {SHORTEST} to {LONGEST} characters (found {len(text)})")
    return PasswordHasher(time_cost=_ROUNDS, memory_cost=_MEMORY_KIB, parallelism=_LANES).hash(text)


def is_hash(text: str) -> bool:
    """Whether this looks like what ``hash_password`` makes."""
    return _FORM.fullmatch(text) is not None


class Passwords:
    """Checks passwords.

    Args:
        hashes: of each person who may log in.
    """

    def __init__(self, hashes: Mapping[str, str]) -> None:
        self._hashes = hashes
        # As dear as a real check: with other parameters it would tell who is there.
        self._nobodys = next(iter(hashes.values()), _NOBODYS)
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="passwords")
        self._waiting = 0

    @property
    def is_busy(self) -> bool:
        """Whether no further check can wait."""
        return self._waiting >= MOST_WAITING

    async def is_right(self, person: str, password: str) -> bool:
        """Whether that is this person's password; for somebody unknown it takes as long to say no."""
        hashed = self._hashes.get(person)
        self._waiting += 1
        try:
            loop = asyncio.get_running_loop()
            matches = await loop.run_in_executor(self._thread, _matches, hashed or self._nobodys, password)
        finally:
            self._waiting -= 1
        return matches and hashed is not None

    def close(self) -> None:
        """Let go of the thread."""
        self._thread.shutdown(wait=False, cancel_futures=True)


def _matches(hashed: str, password: str) -> bool:
    from argon2 import PasswordHasher  # noqa: PLC0415  as above
    from argon2.exceptions import InvalidHashError, VerificationError  # noqa: PLC0415  as above

    try:
        return PasswordHasher().verify(hashed, password.encode("utf-8", "surrogatepass"))
    except (VerificationError, InvalidHashError):
        return False
