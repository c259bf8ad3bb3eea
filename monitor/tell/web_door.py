"""Web door: one way in, with its table of addresses, its guard, and what is kept for it."""

import asyncio
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from starlette.types import ASGIApp

from monitor.tell.settings import HttpSettings
from monitor.tell.web_access import Access
from monitor.tell.web_ack import AckDoor, Acks
from monitor.tell.web_commands import CommandDoor
from monitor.tell.web_guard import Clocks, Guard
from monitor.tell.web_index import Index
from monitor.tell.web_login import CookieForm, Logins, May
from monitor.tell.web_names import Names
from monitor.tell.web_passwords import Passwords
from monitor.tell.web_routes import application
from monitor.tell.web_sessions import Sessions
from monitor.tell.web_streams import Streams
from monitor.tell.web_table import Address
from monitor.tell.web_told import Served, Told


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What a door of the HTTP address is told of people, and what it writes down for the next one.

    Attributes:
        may: what a person may ask for; of the empty name: what the machine itself may.
        sessions: what ``keep_sessions`` was given last.
        keep_sessions: writes the sessions down; None: they end with the server.
        acks: the links in messages; None where there are none.
    """

    may: May = lambda _person: ()
    sessions: str = ""
    keep_sessions: Callable[[str], None] | None = None
    acks: Acks | None = None


class Door:
    """One way in.

    Args:
        served: what is told and taken.
        renderer: writes what is large.
        kept: what outlives it.

    Attributes:
        table: every address, once it is open.
        sessions, access, logins, acks: who has logged in, who judges, what logs in, what answers links; None where
            there is none.
    """

    def __init__(
        self,
        served: Served,
        renderer: ThreadPoolExecutor,
        kept: Kept,
    ) -> None:
        self._clocks = Clocks(
            now_s=asyncio.get_running_loop().time,
            utc_s=lambda: served.clock.now().utc_s,
        )
        self._served = served
        self._renderer = renderer
        self._commands = None if served.submit is None else CommandDoor(served.submit, *self._clocks.both)
        self._told = Told(served, renderer, self._clocks, self._commands)
        self._kept = kept
        self._streams = Streams()
        self._passwords: Passwords | None = None
        self.table: tuple[Address, ...] = ()
        self.sessions: Sessions | None = None
        self.access: Access | None = None
        self.acks: AckDoor | None = None
        self.logins: Logins | None = None

    def open(self, settings: HttpSettings, bound: str, more: Iterable[Address]) -> ASGIApp:
        """The HTTP address.

        Args:
            settings: where it listens, and whose secrets it takes.
            bound: the address that was really bound.
            more: addresses beside our own.
        """
        is_tls = settings.tls is not None or settings.public_address.startswith("https:")
        sessions = self.sessions = Sessions(
            settings.password_hashes, settings.session_life_s, self._kept.sessions, self._kept.keep_sessions
        )
        names = Names((settings.host, bound), settings.public_address)
        cookie = CookieForm(is_secure=is_tls)
        access = self.access = Access(settings.tokens, names, sessions, cookie.name)
        self._passwords = Passwords(settings.password_hashes) if settings.password_hashes else None
        logins = self.logins = self._logins(settings, sessions, names, cookie)
        own = (*logins.addresses(), *self._told.addresses(), *self._acks())
        return self._application(access, (*own, *more), is_tls=is_tls)

    def figures(self) -> ASGIApp:
        """/metrics and /health, and nothing else, for whoever reaches it: so the site file says."""
        return application(self._told.watched(), Guard(None, self._streams, self._clocks), is_tls=False)

    def control(self, more: Iterable[Address]) -> ASGIApp:
        """The control socket: whoever may connect may look, and commands are the command line's."""
        return self._application(
            None, (*self._told.addresses(), *(one for one in more if not one.is_page)), is_tls=False
        )

    def close(self) -> None:
        """End what lasts, and let go of the threads."""
        self._streams.close()
        if self._passwords is not None:
            self._passwords.close()

    def _logins(self, settings: HttpSettings, sessions: Sessions, names: Names, cookie: CookieForm) -> Logins:
        may, clocks = self._kept.may, self._clocks
        return Logins(sessions, self._passwords, settings.password_hashes, names, cookie, may, clocks)

    def _acks(self) -> tuple[Address, ...]:
        acks = self._kept.acks
        if acks is None or self._commands is None:
            return ()
        self.acks = AckDoor(acks, self._served.alarms, self._commands, self._renderer, self._clocks)
        return self.acks.addresses()

    def _application(self, access: Access | None, own: tuple[Address, ...], *, is_tls: bool) -> ASGIApp:
        self.table = Index().before((*self._told.watched(), *own))
        return application(self.table, Guard(access, self._streams, self._clocks), is_tls=is_tls)
