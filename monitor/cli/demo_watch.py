"""Demo watch: the running daemon as the demonstration's screen sees it.

The one file of the demonstration that knows the daemon's insides: it looks at what the daemon would tell its
outlets, never ahead of the journal.
"""

from collections import deque
from collections.abc import Iterable
from contextlib import suppress

from monitor.cli.demo_view import Addresses, AlarmView, CollectorView, DemoView, Trend
from monitor.daemon.running import Daemon
from monitor.errors import StoreError
from monitor.scan.settings import CollectorPlan
from monitor.scan.state import CollectorState
from monitor.words import Event, Instant, Role

#: One column of the trend is this much plant time; a cleaning cycle of some minutes is some tens of columns.
TREND_STEP_S = 20.0
#: As many columns as a wide terminal has.
TREND_LENGTH = 200
#: More events than any screen shows.
KEPT_EVENTS = 50


class Watched:
    """Gathers trends and events while the daemon runs, and gives a view of any moment.

    Attributes:
        problem: a sentence to show above all else.
        latest: the last view that was asked for.
    """

    def __init__(self, daemon: Daemon, addresses: Addresses, started: Instant) -> None:
        self.problem = ""
        self.latest: DemoView | None = None
        self._daemon = daemon
        self._addresses = addresses
        self._started = started
        self._trends = {name: Trend(TREND_STEP_S, TREND_LENGTH) for name in daemon.plan.collectors}
        self._events: deque[Event] = deque(maxlen=KEPT_EVENTS)
        self._seq = 0

    def changed(self, names: Iterable[str]) -> None:
        """Take in the new DP of these collectors; called by the daemon on the event loop."""
        for name in names:
            state = self._daemon.core.told_of(name)
            if state is not None and Role.DP in state.readings:
                self._trends[name].note(state.readings[Role.DP])

    async def look(self) -> DemoView:
        """Return this moment, with every event the journal has by now."""
        # A store that is closing, or cannot be read just now, has the same events a moment later or never.
        with suppress(StoreError):
            for event in await self._daemon.store.events_after(self._seq):
                self._events.append(event)
                self._seq = event.seq
        told = self._daemon.core.told()
        self.latest = DemoView(
            site=self._daemon.plan.name,
            started=self._started,
            now=self._daemon.clock.now(),
            speed=self._daemon.clock.speed,
            collectors=tuple(
                self._collector(plan, told[name])
                for name, plan in self._daemon.plan.collectors.items()
                if name in told
            ),
            events=tuple(self._events),
            addresses=self._addresses,
            problem=self.problem,
        )
        return self.latest

    def _collector(self, plan: CollectorPlan, state: CollectorState) -> CollectorView:
        return CollectorView(
            name=plan.name,
            description=plan.description,
            readings=state.readings,
            bands=plan.bands,
            alarms=tuple(
                AlarmView(tag, alarm.state, alarm.since_utc_s) for tag, alarm in state.watch.alarms.items()
            ),
            trend=self._trends[plan.name].shown(),
        )
