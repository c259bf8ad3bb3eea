"""Desk: what outlives a connection: the journal's window, the board of retained state, troubles and counters."""

import asyncio
import contextlib
import logging
from collections.abc import Iterator
from dataclasses import dataclass, field

from monitor.errors import StoreError
from monitor.tell.heading import SiteHeading
from monitor.tell.mqtt.board import Board
from monitor.tell.mqtt.source import EventSource
from monitor.tell.mqtt.troubles import Subject, Troubles
from monitor.tell.mqtt.window import Window
from monitor.tell.settings import MqttSettings
from monitor.tell.topics import Topics
from monitor.words import Event

log = logging.getLogger(__name__)


@dataclass(slots=True)
class Tally:
    """What is counted over all connections."""

    published: int = 0
    confirmed: int = 0
    refused: int = 0
    set_aside: int = 0
    withheld: int = 0
    connections: int = 0
    taken_over: int = 0


@dataclass(slots=True, kw_only=True)
class Desk:
    """All of that.

    Attributes:
        outlet: the name under which the journal keeps our cursor.
        state_limit_bytes: retained messages beyond this are withheld.
        held_until_s: no event is offered before, because the broker refused one.
        refused_topics: retained topics that the broker refused last time.
    """

    settings: MqttSettings
    site: SiteHeading
    outlet: str
    topics: Topics
    journal: EventSource
    window: Window
    board: Board
    state_limit_bytes: int
    troubles: Troubles = field(default_factory=Troubles)
    tally: Tally = field(default_factory=Tally)
    held_until_s: float = 0.0
    refused_topics: set[str] = field(default_factory=set)
    events_stir: asyncio.Event = field(default_factory=asyncio.Event)
    states_stir: asyncio.Event = field(default_factory=asyncio.Event)

    async def read_events(self, seq: int, limit: int) -> list[Event] | None:
        """The next events of the journal; None while it cannot be read."""
        try:
            found = await self.journal.events_after(seq, limit)
        except StoreError as error:
            self.troubles.say(Subject.JOURNAL, f"the journal cannot be read: {error}")
            return None
        self.troubles.over(Subject.JOURNAL)
        return found

    def set_aside(self, seq: int, why: str, message_id: int | None = None) -> None:
        """Give an event up, visibly: in the journal, the log and the figures.

        Args:
            seq: the event.
            why: a sentence for people.
            message_id: under which it is in flight; None when it is not.
        """
        log.error("event set aside outlet=%s seq=%d why=%s", self.outlet, seq, why)
        self.tally.set_aside += 1
        with self._noting():
            self.journal.set_aside_event(self.outlet, seq, why)
        self.moved(self.window.skip(seq) if message_id is None else self.window.settle(message_id))

    def moved(self, cursor: int | None) -> None:
        """Tell the journal how far we have got, if we have got further."""
        if cursor is not None:
            with self._noting():
                self.journal.confirm(self.outlet, cursor)

    @contextlib.contextmanager
    def _noting(self) -> Iterator[None]:
        # A cursor that could not be noted costs duplicates after a restart, never an event.
        try:
            yield
        except StoreError as error:
            self.troubles.say(Subject.JOURNAL, f"the journal cannot note what was told: {error}")


async def stirred(event: asyncio.Event, limit_s: float) -> None:
    """Wait until something stirs, or the limit is over; then be ready for the next."""
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(limit_s):
            await event.wait()
    event.clear()
