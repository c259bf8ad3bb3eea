"""Paging: the page's side of the daemon: where it looks, and what it hears of.

The page is told what every outlet is told: states that are never ahead of the journal, and each event once the
journal has it.
"""

import logging
from collections import deque
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import NamedTuple

from monitor import __version__
from monitor.clock import Clock
from monitor.daemon.core import Core
from monitor.daemon.page_reading import PageReading
from monitor.daemon.tasks import Tasks
from monitor.figures import LinkFigures, MqttFigures, PhoneFigures
from monitor.remember.settings import StoreSettings
from monitor.remember.store import Store
from monitor.site.plan import SitePlan
from monitor.tell.heading import SiteHeading
from monitor.tell.health import HealthReport
from monitor.tell.page.addresses import page_addresses
from monitor.tell.page.backfill import backfill
from monitor.tell.page.files import PageFiles
from monitor.tell.page.page import Page
from monitor.tell.page.source import Outlets, PageSite, Source
from monitor.tell.web_table import Address
from monitor.words import Event

log = logging.getLogger(__name__)

#: Events that wait for the journal, at most; a page that misses one finds it in the list.
MOST_WAITING = 1000


class Looks(NamedTuple):
    """Where the figures of the daemon's parts are asked for."""

    links: Callable[[], Mapping[str, LinkFigures]]
    health: Callable[[], HealthReport]
    mqtt: Callable[[], MqttFigures | None]
    phone: Callable[[], PhoneFigures | None] = lambda: None


class Paging:
    """The page of one site.

    Attributes:
        page: what is shown; ``addresses`` serves it.
    """

    def __init__(self, core: Core, store: Store, clock: Clock, looks: Looks) -> None:
        self._core = core
        self._store = store
        self._clock = clock
        self._looks = looks
        self._site = PageSite(SiteHeading(""))
        self._events: deque[Event] = deque(maxlen=MOST_WAITING)
        self._latest_seq = 0
        self._store_settings = StoreSettings(folder=Path())
        self._reading = PageReading(lambda: self._store_settings.folder)
        self.page = Page(self._source())
        self._files = PageFiles()

    def addresses(self) -> tuple[Address, ...]:
        """What the page asks and is answered; served by the web server."""
        return page_addresses(self.page, self._files)

    def start(self, tasks: Tasks) -> None:
        """Begin to tell; must be called once, on the event loop."""
        tasks.start("page", self.page.feed.run())
        tasks.start("page trends", backfill(self.page))

    def follow(self, plan: SitePlan, heading: SiteHeading) -> None:
        """Show this plan from now on."""
        self._site = PageSite(heading, plan.time_zone, __version__)
        self._store_settings = plan.store
        self.page.follow()

    def changed(self, names: Iterable[str]) -> None:
        """These collectors have something new."""
        self.page.changed(names)

    def links_changed(self) -> None:
        """The alarm of some link has something new."""
        self.page.links_changed()

    def happened(self, event: Event) -> None:
        """This event was handed to the journal; it is told once that has it."""
        self._events.append(event)

    def committed(self, seq: int) -> None:
        """The journal has everything up to ``seq``."""
        self._latest_seq = max(self._latest_seq, seq)
        while self._events and self._events[0].seq <= seq:
            self.page.happened(self._events.popleft())

    def close(self) -> None:
        """End all streams."""
        self.page.close()
        self._reading.close()

    def _source(self) -> Source:
        return Source(
            site=lambda: self._site,
            plan=lambda: self._core.plan,
            told=self._core.told,
            told_links=self._core.told_links,
            links=self._looks.links,
            outlets=lambda: Outlets(self._store.figures(), self._looks.mqtt(), self._looks.phone()),
            health=self._looks.health,
            now=self._clock.now,
            latest_seq=lambda: self._latest_seq,
            read_rows=self._reading.rows,
            read_events=self._reading.events,
            read_before=self._reading.before,
            step_s=lambda: self._store_settings.history_step_s,
        )
