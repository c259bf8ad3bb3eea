"""Figuring: the alarm log of a running daemon, refilled from the journal while the watch already goes on."""

import asyncio
import logging

from monitor.clock import Clock
from monitor.daemon.alarm_log import REFILL_EVENTS, AlarmLog
from monitor.errors import StoreError
from monitor.figures import AlarmLogFigures
from monitor.remember.store import Store
from monitor.words import Event

log = logging.getLogger(__name__)

#: Events taken in before the loop may turn to something else.
_BATCH = 500


class Figuring:
    """How the alarm system is doing, from event to event.

    Args:
        store: where the events of earlier days are.
        clock: stamps the figures.
    """

    def __init__(self, store: Store, clock: Clock) -> None:
        self._store = store
        self._clock = clock
        self._log = AlarmLog(clock.now().utc_s)
        # What happens while the journal is being read comes after it.
        self._meanwhile: list[Event] | None = []

    def happened(self, event: Event) -> None:
        """One more event that the journal has, or is about to have."""
        if self._meanwhile is None:
            self._log.take(event)
        else:
            self._meanwhile.append(event)

    async def refill(self) -> None:
        """Learn from the journal what a restart would hide."""
        try:
            events = await self._store.last_events(REFILL_EVENTS)
        except StoreError as error:
            log.error("alarm figures begin at nothing why=%r", str(error))
            events = []
        new = {event.event_id for event in self._meanwhile or ()}
        old = [event for event in events if event.event_id not in new]
        for first in range(0, len(old), _BATCH):
            self._log.refill(old[first : first + _BATCH])
            await asyncio.sleep(0)
        waiting, self._meanwhile = self._meanwhile or [], None
        for event in waiting:
            self._log.take(event)

    def figures(self) -> AlarmLogFigures:
        """How it stands now."""
        return self._log.figures(self._clock.now().utc_s)
