"""Rates: how many alarms in how much time. Windows are open at their old end: (t − window, t]."""

from bisect import bisect_left, bisect_right
from collections import Counter, deque
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from monitor.judge.performance.span import MINUTE_S, TEN_MINUTES_S

#: An alarm flood begins with more than 10 alarms in 10 minutes for one operator, and ends with fewer than 5
#: (ISA-18.2-2016; EEMUA 191).
FLOOD_STARTS_ABOVE = 10
FLOOD_ENDS_BELOW = 5
#: An alarm chatters when it is raised at least three times in one minute (ISA-18.2-2016).
CHATTER_RAISED = 3
#: Alarms are stamped with what confirmed them, so a later one may be a little older. Beyond this
#: the clock was set.
_DISORDER_S = 60.0


class Peak(NamedTuple):
    """The most alarms in any window of one length, and when the first of them came (Unix seconds)."""

    raised: int
    first_utc_s: float | None


class Flood(NamedTuple):
    """One alarm flood.

    Attributes:
        start_utc_s: when the alarm came that made it a flood.
        end_utc_s: when fewer than five remained in the last 10 minutes; None while it lasts.
        raised: alarms from the first that counted towards it to the last.
        most_in_ten_minutes: at its worst.
    """

    start_utc_s: float
    end_utc_s: float | None
    raised: int
    most_in_ten_minutes: int


class FloodWatch:
    """Follows the floods of one team as alarms are raised; remembers no more than it needs.

    Args:
        operators: among whom the alarms are shared evenly, 1 or more.

    Attributes:
        since_utc_s: since when there is a flood; None while there is none.
    """

    def __init__(self, operators: int = 1) -> None:
        self.since_utc_s: float | None = None
        self._ends_below = FLOOD_ENDS_BELOW * operators
        self._starts_above = FLOOD_STARTS_ABOVE * operators
        # Of more alarms than make a flood, the oldest can change nothing.
        self._recent: deque[float] = deque(maxlen=self._starts_above + 1)

    def take(self, raised_utc_s: float) -> tuple[float, float] | None:
        """One more alarm; start and end of the flood that had ended before it came, if one had."""
        ended = self.settle(raised_utc_s)
        self._recent.append(max(raised_utc_s, self._recent[-1]) if self._recent else raised_utc_s)
        if self.since_utc_s is None and len(self._recent) > self._starts_above:
            self.since_utc_s = self._recent[-1]
        return ended

    def settle(self, now_utc_s: float) -> tuple[float, float] | None:
        """Let time pass; start and end of the flood that has ended meanwhile, if one has."""
        ended = None
        if self._recent and now_utc_s < self._recent[-1] - _DISORDER_S:
            ended = self._end(self._recent[-1])  # what was counted under the old clock says nothing now
            self._recent.clear()
        while self._recent and self._recent[0] + TEN_MINUTES_S <= now_utc_s:
            left_utc_s = self._recent.popleft() + TEN_MINUTES_S
            if len(self._recent) < self._ends_below:
                ended = self._end(left_utc_s) or ended
        return ended

    def _end(self, at_utc_s: float) -> tuple[float, float] | None:
        since_utc_s, self.since_utc_s = self.since_utc_s, None
        return None if since_utc_s is None else (since_utc_s, at_utc_s)


def peak(stamps: Sequence[float], window_s: float) -> Peak:
    """The most of these moments (ascending) in any window of that length."""
    best = Peak(0, None)
    oldest = 0
    for newest, at_utc_s in enumerate(stamps):
        while stamps[oldest] <= at_utc_s - window_s:
            oldest += 1
        if newest - oldest + 1 > best.raised:
            best = Peak(newest - oldest + 1, stamps[oldest])
    return best


def periods_above(stamps: Iterable[float], start_utc_s: float, period_s: float, limit: int) -> int:
    """How many periods, counted off from ``start_utc_s``, hold more than ``limit`` of these moments."""
    counts = Counter(int((at_utc_s - start_utc_s) // period_s) for at_utc_s in stamps)
    return sum(count > limit for count in counts.values())


def floods(stamps: Sequence[float], operators: int, until_utc_s: float) -> tuple[Flood, ...]:
    """The floods among these alarms (ascending), as of a moment not before the last of them."""
    watch = FloodWatch(operators)
    ended = [span for at_utc_s in stamps if (span := watch.take(at_utc_s))]
    if last := watch.settle(until_utc_s):
        ended.append(last)
    found = [_flood(stamps, start, end) for start, end in ended]
    if watch.since_utc_s is not None:
        found.append(_flood(stamps, watch.since_utc_s, None))
    return tuple(found)


def _flood(stamps: Sequence[float], start_utc_s: float, end_utc_s: float | None) -> Flood:
    first = bisect_right(stamps, start_utc_s - TEN_MINUTES_S)
    end = len(stamps) if end_utc_s is None else bisect_left(stamps, end_utc_s)
    raised = stamps[first:end]
    return Flood(start_utc_s, end_utc_s, len(raised), peak(raised, TEN_MINUTES_S).raised)


class Chatter(NamedTuple):
    """How one alarm chattered: how many times, and the moments of the raisings that belong to it."""

    bursts: int
    stamps: frozenset[float]


def chatter(stamps: Sequence[float]) -> Chatter:
    """The chattering among the raisings of one alarm (ascending)."""
    bursts, members, last = 0, set[float](), -1
    for newest in range(CHATTER_RAISED - 1, len(stamps)):
        oldest = newest - CHATTER_RAISED + 1
        if stamps[newest] - stamps[oldest] >= MINUTE_S:
            continue
        bursts += oldest > last
        members.update(stamps[oldest : newest + 1])
        last = newest
    return Chatter(bursts, frozenset(members))
