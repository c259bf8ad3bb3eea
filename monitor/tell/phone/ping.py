"""Ping: asks an address outside now and then, so that somebody out there notices when this box falls silent.

It is asked only while everything here moves: a daemon that is up but stuck must fall silent too. A redirect is a
failure: a login page that a network puts in the way must not pass for the address.
"""

import asyncio
import http.client
import logging
import ssl
import urllib.error
import urllib.request
from collections.abc import Callable
from typing import NamedTuple

from monitor import __version__
from monitor.clock import real_s
from monitor.tell.phone.bulkhead import Bulkhead, Full, Overrun
from monitor.tell.phone.reasons import timed_out
from monitor.tell.phone.settings import Ping

log = logging.getLogger(__name__)

#: One that hangs must not silence the next.
_PLACES = 3


class PingFigures(NamedTuple):
    """What became of the pings since the daemon started.

    Attributes:
        error: why the last one failed, or was not sent; a phrase without secrets. Empty where it was answered.
    """

    pings: int = 0
    failures: int = 0
    error: str = ""


class Pinger:
    """Asks the address of the settings, on time, whatever became of the last time.

    Args:
        settings: the address; None for none.
        healthy: whether everything here moves.
    """

    def __init__(self, settings: Ping | None, healthy: Callable[[], bool]) -> None:
        self.figures = PingFigures()
        self._settings = settings
        self._healthy = healthy
        self._bulkhead: Bulkhead[str] = Bulkhead("ping", _PLACES)
        self._asking: set[asyncio.Task[None]] = set()
        self._stir = asyncio.Event()
        self._logged = ""

    def follow(self, settings: Ping | None) -> None:
        """Go on with other settings."""
        if settings != self._settings:
            self._settings = settings
            self.figures = self.figures._replace(error="")
            self._stir.set()

    async def run(self) -> None:
        """Ask until cancelled; the first time at once."""
        try:
            while True:
                self._ask_now()
                await self._rest(self._settings.every_s if self._settings else None)
        finally:
            for task in self._asking:
                task.cancel()

    async def _rest(self, every_s: float | None) -> None:
        try:
            async with asyncio.timeout(every_s):
                await self._stir.wait()
        except TimeoutError:
            return
        self._stir.clear()

    def _ask_now(self) -> None:
        if self._settings is None:
            return
        if not self._healthy():
            self._note("not sent: the watch itself does not move", asked=False)
            return
        task = asyncio.get_running_loop().create_task(self._ask(self._settings))
        self._asking.add(task)
        task.add_done_callback(self._asking.discard)

    async def _ask(self, settings: Ping) -> None:
        try:
            why = await self._bulkhead.run(lambda: ask(settings), settings.limit_s)
        except Overrun:
            why = timed_out(settings.limit_s)
        except Full:
            why = "earlier ones still hang"
        if settings == self._settings:
            self._note(why, asked=True)

    def _note(self, why: str, *, asked: bool) -> None:
        before = self.figures
        self.figures = PingFigures(before.pings + asked, before.failures + bool(asked and why), why)
        if why == self._logged:
            return
        if why:
            log.warning("ping failed why=%r", why)
        else:
            log.info("ping answered again")
        self._logged = why


def ask(settings: Ping) -> str:
    """Ask once; blocks for about ``limit_s`` at most, and raises nothing.

    Returns:
        Why it was not answered well, in a phrase that does not show the address; empty where it was.
    """
    began_s = real_s()
    try:
        with _opener().open(_request(settings.url), timeout=settings.limit_s) as answer:
            answer.read(1024)
        return "" if real_s() - began_s <= settings.limit_s else timed_out(settings.limit_s)
    except urllib.error.HTTPError as error:
        with error:
            return f"redirected: {error.code}" if 300 <= error.code < 400 else f"refused: {error.code}"
    except (OSError, http.client.HTTPException, ValueError) as error:
        return _phrase(error, settings.limit_s)


def _request(url: str) -> urllib.request.Request:
    # The site file lets in http and https alone.
    return urllib.request.Request(url, headers={"User-Agent": f"cakewatch/{__version__}"})  # noqa: S310, as above


class _NoRedirects(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_: object, **__: object) -> None:
        return None


def _opener() -> urllib.request.OpenerDirector:
    secure = urllib.request.HTTPSHandler(context=ssl.create_default_context())
    return urllib.request.build_opener(_NoRedirects(), secure)


def _phrase(error: Exception, limit_s: float) -> str:
    cause = error.reason if isinstance(error, urllib.error.URLError) else error
    match cause:
        case TimeoutError():
            return timed_out(limit_s)
        case ssl.SSLCertVerificationError():
            return "its certificate is not trusted"
        case ConnectionRefusedError():
            return "no connection"
        case ConnectionError() | http.client.HTTPException():
            return "connection lost"
        case OSError():
            return "no connection"
    return "it cannot be asked"
