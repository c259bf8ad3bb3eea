"""News: what a link's worker tells the others: each change of the connection once, and every read."""

import logging
from collections.abc import Callable, Iterable

from monitor.acquire.unit import Unit
from monitor.clock import Clock
from monitor.words import BlockRead, Failure, LinkChange, UnitScan

_log = logging.getLogger(__name__)

Deliver = Callable[[UnitScan | LinkChange], None]


class News:
    """The voice of one link.

    Attributes:
        up: what was last said of the connection; None: nothing yet, so the next word is news.
    """

    def __init__(self, link: str, clock: Clock, deliver: Deliver) -> None:
        self.up: bool | None = None
        self._link = link
        self._clock = clock
        self._deliver = deliver

    def connection(self, *, up: bool, detail: str) -> None:
        """Tell that the link came or went, if that is new."""
        if self.up is up:
            return
        self.up = up
        self._deliver(LinkChange(self._link, up, self._clock.now(), detail))
        level, word = (logging.INFO, "up") if up else (logging.WARNING, "down")
        _log.log(level, "link %s link=%s detail=%s", word, self._link, detail)

    def unit(self, unit: Unit) -> None:
        """Note that a unit fell silent or answers again."""
        word, detail = ("answers", "") if not unit.aside else ("silent", f" detail={unit.aside.detail}")
        _log.debug("unit %s link=%s unit_id=%d%s", word, self._link, unit.unit_id, detail)

    def reads(self, unit: Unit, reads: tuple[BlockRead, ...]) -> None:
        """Deliver what a visit to a unit brought, or why there was none."""
        self._deliver(UnitScan(self._link, unit.unit_id, reads))

    def all_failed(self, units: Iterable[Unit], failure: Failure) -> None:
        """Deliver that nothing of the link could be read."""
        now = self._clock.now()
        for unit in units:
            self.reads(unit, unit.failed_reads(failure, now))
