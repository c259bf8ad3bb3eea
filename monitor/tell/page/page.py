"""Page: the plant as open pages see it: what changed comes in here, what they ask is answered from here."""

from collections.abc import Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor

from monitor.scan.state import CollectorState
from monitor.tell.page.cards import told
from monitor.tell.page.feed import Feed
from monitor.tell.page.source import Source
from monitor.tell.page.standing import worst_active
from monitor.tell.page.trends import Shown, Trends
from monitor.tell.page.whole import Look
from monitor.words import Event, Priority, Quality, Role


class Page:
    """What is known of the plant for the pages, beside the states themselves.

    Args:
        source: where the plant is looked at.

    Attributes:
        feed: tells the open pages; its ``run`` must be running.
        trends: the last hours of every collector.
        writer: one thread for what is large.
    """

    def __init__(self, source: Source) -> None:
        self.source = source
        self.writer = ThreadPoolExecutor(max_workers=1, thread_name_prefix="page")
        self.feed = Feed(source, self.look, self.writer)
        self.trends = Trends()
        self._last_good: dict[str, float] = {}
        self._alarms: dict[str, tuple[Mapping[str, object], tuple[object, ...], Priority | None]] = {}

    def changed(self, names: Iterable[str]) -> None:
        """These collectors have something new."""
        states, names, now_utc_s = self.source.told(), list(names), self.source.now().utc_s
        with self.feed.guard("trends"):
            for name in names:
                if (state := states.get(name)) is not None:
                    self._note(name, state, now_utc_s)
        self.feed.changed(names)

    def links_changed(self) -> None:
        """The alarm of some link has something new."""
        self.feed.alarms_changed()

    def happened(self, event: Event) -> None:
        """This event is in the journal, and may be told."""
        self.feed.happened(event)

    def follow(self) -> None:
        """Another plan is in force."""
        plans = self.source.plan().collectors
        self.trends.keep(plans)
        self._last_good = {name: at for name, at in self._last_good.items() if name in plans}
        self._alarms = {}
        self.changed(plans)
        self.feed.start_anew()

    def close(self) -> None:
        """End all streams, and the thread."""
        self.feed.close()
        self.writer.shutdown(wait=False, cancel_futures=True)

    def look(self) -> Look:
        """The plant at this moment, held still."""
        source = self.source
        return Look(
            site=source.site(),
            plan=source.plan(),
            states=dict(source.told()),
            links=dict(source.told_links()),
            link_figures=source.links(),
            outlets=source.outlets(),
            latest_seq=source.latest_seq(),
            last_good=dict(self._last_good),
            now=source.now(),
        )

    def _note(self, name: str, state: CollectorState, now_utc_s: float) -> None:
        dp = state.readings[Role.DP]
        if dp.quality is Quality.GOOD:
            self._last_good[name] = dp.at.utc_s
        value = None if dp.quality is Quality.BAD else dp.value
        cleaned = state.curve.tracker.last
        shown = Shown(value, self._worst(name, state), None if cleaned is None else cleaned.end_utc_s)
        self.trends.note(name, now_utc_s, shown)

    def _worst(self, name: str, state: CollectorState) -> Priority | None:
        """Of its active alarms; and the word to the pages where any of its alarms is another than before."""
        before = self._alarms.get(name)
        alarms = state.watch.alarms
        if before is not None and before[0] is alarms:
            return before[2]
        shown = told(alarms)
        worst = worst_active(self.source.plan().collectors[name], state)
        self._alarms[name] = (alarms, shown, worst)
        if before is None or before[1] != shown:
            self.feed.alarms_changed()
        return worst
