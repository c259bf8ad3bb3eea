"""A web server with people of every kind, and what each of them brings along."""

import json
from collections.abc import Mapping
from typing import Any

from monitor.tell.settings import HttpSettings
from monitor.tell.web_ack import Acks
from monitor.tell.web_links import AckLinks
from monitor.tell.web_passwords import hash_password
from monitor.tell.web_sessions import Sessions, csrf_of
from monitor.tell.web_table import Address, Right
from monitor.words import CommandKind, Instant
from tests.tell.page_table import page_table
from tests.tell.served import ServedWeb

NOW_UTC_S = 1_772_352_723.0
PUBLIC = "https://dp.alder-mill.example"
PASSWORD = "alder-mill-password"
HASHES = {name: hash_password(PASSWORD) for name in ("anna", "lena")}
TOKENS = {"anna": "alder-mill-secret-1", "lena": "alder-mill-secret-2"}
#: anna operates, lena only looks.
MAY = {"": (CommandKind.ACKNOWLEDGE,), "anna": tuple(CommandKind), "lena": ()}
#: What a proxy on this machine adds, so that it is not taken for the machine itself.
ELSEWHERE = {"X-Forwarded-For": "192.0.2.7", "Host": "dp.alder-mill.example"}
COOKIE = "__Host-cakewatch"
STANDING = {"PDAH-101": "PDAH-101@1", "PDAH-102": "PDAH-102@2"}


class SetClock:
    """A clock that stands at what a test sets."""

    def __init__(self) -> None:
        self.utc_s = NOW_UTC_S

    def now(self) -> Instant:
        return Instant(0.0, self.utc_s)


class Mill(ServedWeb):
    """A server that people reach under a public name.

    Attributes:
        sessions, links: what it wrote down.
    """

    def __init__(self, *, settings: Mapping[str, Any] | None = None, **more: Any) -> None:
        self.clock = SetClock()
        self.sessions: list[str] = []
        self.kept_links: list[str] = []
        self.links = AckLinks(b"0123456789abcdef", PUBLIC, 3600.0, keep=self.kept_links.append)
        given = {"port": 0, "tokens": TOKENS, "password_hashes": HASHES, "public_address": PUBLIC}
        super().__init__(
            HttpSettings(**given | dict(settings or {})),
            clock=self.clock,
            may=MAY.__getitem__,
            keep_sessions=self.sessions.append,
            acks=Acks(links=self.links, standing=STANDING.get, local_time=lambda _: "02:14"),
            **more,
        )

    @property
    def table(self) -> tuple[Address, ...]:
        """Every address that is served."""
        return self.server._doors[0].table

    def log_in(self, person: str = "anna", headers: Mapping[str, str] = ELSEWHERE) -> dict[str, str]:
        """What this person's browser sends from now on."""
        body = json.dumps({"person": person, "password": PASSWORD}).encode()
        status, found, answer = self.ask("POST", "/api/v1/login", body, headers)
        assert status == 200, answer
        cookie = found["set-cookie"].partition(";")[0]
        return {**headers, "Cookie": cookie, "X-Cakewatch-Token": json.loads(answer)["csrf"]}


def a_session(server: Mill, person: str = "anna") -> dict[str, str]:
    """A session without the dear check of a password."""
    sessions: Sessions = server.server._doors[0].sessions
    secret = server.call(lambda: sessions.open(person, "192.0.2.7", server.clock.utc_s))
    return {**ELSEWHERE, "Cookie": f"{COOKIE}={secret}", "X-Cakewatch-Token": csrf_of(secret)}


def everything() -> tuple[Address, ...]:
    """The whole table, the page among it."""
    with Mill(addresses=page_table()) as mill:
        return mill.table


def path_of(address: Address) -> str:
    """An example of its path."""
    return address.path.replace("{token}", "x" * 22).replace("{name}", "DC-101").replace("{file}", "app.js")


def needs_right(address: Address) -> bool:
    """Whether it is not open to everybody who comes."""
    return address.right in (Right.LOOK, Right.OPERATE)
