"""Alarm log: how the alarm system is doing right now, kept from event to event, for the metrics.

Counters begin at 0 with the daemon, as a scraper expects; rates, floods, chattering and stale alarms are refilled
from the journal's last events, so that a restart hides none. What it remembers is bounded: counts by time step,
and a few stamps for each alarm that was raised in the last 24 hours.
"""

from bisect import bisect_left
from collections import Counter, deque
from collections.abc import Iterable
from itertools import accumulate

from monitor.figures import AlarmLogFigures
from monitor.judge.performance.rates import CHATTER_RAISED, FloodWatch
from monitor.judge.performance.rolling import RollingCount
from monitor.judge.performance.span import DAY_S, HOUR_S, MINUTE_S, TEN_MINUTES_S
from monitor.judge.performance.summing import STALE_S
from monitor.judge.performance.tracks import Tracks, Wait, WaitEnd
from monitor.words import Event, Priority

#: Upper bounds of the time to acknowledge, seconds: 10 s to a day.
BUCKETS_S = (10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0, 14400.0, 86400.0)
#: So many events of the journal refill it: a month at ISA-18.2's 150 alarms a day, some three events each.
REFILL_EVENTS = 15_000
#: Alarms whose last raisings are remembered before those of yesterday are looked for and forgotten.
_FIRST_SWEEP = 1_000


class AlarmLog:
    """Takes every event once it is journaled; cheap, bounded, and never in the way.

    Args:
        now_utc_s: this moment, Unix seconds; time in flood counts from here.
        operators: among whom the alarms are shared evenly, 1 or more.
    """

    def __init__(self, now_utc_s: float, operators: int = 1) -> None:
        self._began_utc_s = now_utc_s
        self._tracks = Tracks()
        self._ten_minutes = RollingCount(10.0, 60)
        self._day = RollingCount(MINUTE_S, 1440)
        self._month = RollingCount(HOUR_S, 720)
        self._flood = FloodWatch(operators)
        self._floods = 0
        self._flood_s = 0.0
        self._chatter = _Chatter()
        self._raised: Counter[Priority] = Counter(dict.fromkeys(Priority, 0))
        self._unseen = 0
        self._answered = [0] * (len(BUCKETS_S) + 1)
        self._answered_s = 0.0

    def refill(self, events: Iterable[Event]) -> None:
        """Learn from the journal's last events (``REFILL_EVENTS``, oldest first), before the first ``take``."""
        for event in events:
            step = self._tracks.take(event)
            if step.raised:
                self._count_raised(event)

    def take(self, event: Event) -> None:
        """One more event that the journal has."""
        step = self._tracks.take(event)
        if step.raised:
            had_flood = self._flood.since_utc_s
            self._count_raised(event)
            self._floods += self._flood.since_utc_s not in (None, had_flood)
            if event.priority is not None:
                self._raised[event.priority] += 1
        self._unseen += step.unseen
        if step.wait is not None and step.wait.end is WaitEnd.ACKNOWLEDGED:
            self._count_answer(step.wait)

    def figures(self, now_utc_s: float) -> AlarmLogFigures:
        """How it stands now, Unix seconds."""
        self._note_flood(self._flood.settle(now_utc_s))
        cumulative = list(accumulate(self._answered))
        return AlarmLogFigures(
            raised=dict(self._raised),
            raised_10_min=self._ten_minutes.within(TEN_MINUTES_S, now_utc_s),
            raised_hour=self._day.within(HOUR_S, now_utc_s),
            raised_day=self._day.within(DAY_S, now_utc_s),
            raised_30_days=self._month.within(30 * DAY_S, now_utc_s),
            chattering=self._chatter.within(DAY_S, now_utc_s),
            stale=self._stale(now_utc_s),
            in_flood=self._flood.since_utc_s is not None,
            floods=self._floods,
            flood_s=self._flood_s + self._flood_so_far_s(now_utc_s),
            cleared_unseen=self._unseen,
            acknowledge_buckets=dict(zip(BUCKETS_S, cumulative, strict=False)),
            acknowledge_sum_s=self._answered_s,
            acknowledge_count=cumulative[-1],
        )

    def _count_raised(self, event: Event) -> None:
        at_utc_s = event.at_utc_s
        for count in (self._ten_minutes, self._day, self._month):
            count.add(at_utc_s)
        self._note_flood(self._flood.take(at_utc_s))
        self._chatter.take(event.tag or "", at_utc_s)

    def _count_answer(self, wait: Wait) -> None:
        waited_s = max(0.0, wait.until_utc_s - wait.since_utc_s)
        self._answered[bisect_left(BUCKETS_S, waited_s)] += 1
        self._answered_s += waited_s

    def _note_flood(self, ended: tuple[float, float] | None) -> None:
        if ended is not None:
            self._flood_s += max(0.0, ended[1] - max(ended[0], self._began_utc_s))

    def _flood_so_far_s(self, now_utc_s: float) -> float:
        since_utc_s = self._flood.since_utc_s
        return 0.0 if since_utc_s is None else max(0.0, now_utc_s - max(since_utc_s, self._began_utc_s))

    def _stale(self, now_utc_s: float) -> int:
        return sum(
            now_utc_s - track.active_since_utc_s > STALE_S
            for track in self._tracks.standing.values()
            if track.active_since_utc_s is not None
        )


class _Chatter:
    """The last raisings of each alarm, and when it last chattered; yesterday's are forgotten now and then."""

    def __init__(self) -> None:
        self._recent: dict[str, deque[float]] = {}
        self._last: dict[str, float] = {}
        self._sweep_at = _FIRST_SWEEP

    def take(self, tag: str, at_utc_s: float) -> None:
        recent = self._recent.get(tag)
        if recent is None:
            recent = self._recent[tag] = deque(maxlen=CHATTER_RAISED)
            self._sweep(at_utc_s)
        recent.append(at_utc_s)
        if len(recent) == CHATTER_RAISED and 0 <= at_utc_s - recent[0] < MINUTE_S:
            self._last[tag] = at_utc_s

    def within(self, length_s: float, now_utc_s: float) -> int:
        """How many alarms chattered in the last so many seconds."""
        self._last = {tag: at for tag, at in self._last.items() if now_utc_s - at < length_s}
        return len(self._last)

    def _sweep(self, now_utc_s: float) -> None:
        """Twice as many must have come before the next sweep, so each alarm pays for a constant share of it."""
        if len(self._recent) <= self._sweep_at:
            return
        old = [tag for tag, recent in self._recent.items() if recent and abs(now_utc_s - recent[-1]) >= DAY_S]
        for tag in old:
            del self._recent[tag]
            self._last.pop(tag, None)
        self._sweep_at = max(_FIRST_SWEEP, 2 * len(self._recent))
