"""Stretch: many samples of one collector taken in at once, where nothing can happen to it.

``turn`` looks at each sample for itself, which costs ten microseconds and more; a year of one-second samples would
take six minutes. Yet nearly always the DP lies well inside its bands, the signal is good and the fan does what it
did. Such a stretch is recognised here as a whole and leads to exactly the state to which ``turn`` would have led,
sample by sample, with a ``Tick`` in between as often as one likes. Whatever might bring an event, or is not quite
plain, ends the stretch before it, and is left to ``turn``. So this file decides nothing; it only saves time.
"""

import math
from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from operator import sub

from monitor.condition import channel
from monitor.condition.channel import AnalogChannel, AnalogState, DiscreteChannel
from monitor.scan import context, stretch_channel, stretch_curve, stretch_window
from monitor.scan.context import Context
from monitor.scan.settings import CollectorPlan, Suppression
from monitor.scan.state import CollectorState
from monitor.scan.stretch_curve import Read, Seen
from monitor.scan.stretch_window import Followed
from monitor.words import Instant, Quality, Reading, Role

#: What is read of one point, row by row: the number in its register(s), or None where that row has none.
Numbers = Sequence[float | None]


@dataclass(frozen=True, slots=True)
class Rows:
    """What was read of one collector, oldest first.

    Attributes:
        at_s: on the scan clock, never falling.
        utc_s: the same as Unix seconds.
        numbers: by role, one for each row.
    """

    at_s: Sequence[float]
    utc_s: Sequence[float]
    numbers: Mapping[Role, Numbers]


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of a stretch.

    Attributes:
        rows: how many rows were taken in, 0 where the first one must go through ``turn``.
        damped: the damped DP of each row that had one; ``utc_s`` the moments of those.
    """

    rows: int
    state: CollectorState
    utc_s: Sequence[float] = ()
    damped: Sequence[float] = ()


@dataclass(frozen=True, slots=True)
class _Series:
    """The rows that have a number of one point; ``rows`` are their places among all, None where it is all."""

    at_s: Sequence[float]
    utc_s: Sequence[float]
    numbers: Sequence[float]
    rows: Sequence[int] | None

    def row(self, place: int, rows: int) -> int:
        """Where among all ``rows`` that one stands; their end for one beyond the last."""
        if place >= len(self.numbers):
            return rows
        return place if self.rows is None else self.rows[place]

    def cut(self, rows: int) -> "_Series":
        """The same of the first ``rows`` rows."""
        count = rows if self.rows is None else bisect_left(self.rows, rows)
        if count >= len(self.numbers):
            return self
        places = None if self.rows is None else self.rows[:count]
        return _Series(self.at_s[:count], self.utc_s[:count], self.numbers[:count], places)

    @property
    def last(self) -> Instant:
        return Instant(self.at_s[-1], self.utc_s[-1])


def take(plan: CollectorPlan, state: CollectorState, rows: Rows) -> Taken:
    """Take in as many of the rows as bring nothing.

    Args:
        plan: of the collector.
        state: as ``turn`` or a stretch before left it.
        rows: 1 or more, the first not before the moment of ``state``.
    """
    if not _is_plain(plan, state):
        return Taken(0, state)
    count = bisect_left(rows.at_s, _edge_s(plan, state), 0, len(rows.at_s))
    all_series = {role: _series(rows, numbers, count) for role, numbers in rows.numbers.items()}
    fan = _fan(state)
    for role, one in all_series.items():
        count = min(count, _limit(plan, state, role, one, fan, count))
    count = _fresh(plan, state, rows, all_series, count)
    return _taken(plan, state, {role: one.cut(count) for role, one in all_series.items()}, fan, count)


def quiet_until_s(plan: CollectorPlan, state: CollectorState) -> float:
    """The moment on the scan clock up to which a ``Tick`` cannot change this collector."""
    fresh_s = (
        reading.at.mono_s + plan.points[role].channel.stale_after_s
        for role, reading in state.readings.items()
        if reading.quality is not Quality.BAD
    )
    return min(state.watch.tick_due_s, state.context.due_s, *fresh_s, math.inf)


def _is_plain(plan: CollectorPlan, state: CollectorState) -> bool:
    """Whether a stretch may begin at all: good sight of the DP, and windows that are filled or paused."""
    if state.looked_s is None or state.readings[Role.DP].quality is not Quality.GOOD or not state.watch.ranges:
        return False
    if plan.suppression and context.follow(state.context, state.readings) is not state.context:
        return False  # not yet regarded
    paused = (state.residual.last_s is None, state.average.last_s is None)
    return paused == ((True, True) if _fan(state) is False else (False, False))


def _edge_s(plan: CollectorPlan, state: CollectorState) -> float:
    """Before which moment no delay runs out and no hold begins or ends by itself."""
    begun_s = state.looked_s if state.looked_s is not None else -math.inf
    edges = (edge for one in plan.suppression.values() for edge in _edges_s(one, state.context))
    later = (edge_s for edge_s in edges if edge_s > begun_s)
    if state.context.due_s <= begun_s:
        return -math.inf
    return min(state.watch.due_s, state.watch.tick_due_s, *later, math.inf)


def _edges_s(suppression: Suppression, known: Context) -> Iterator[float]:
    yield known.fan_started_s + suppression.after_fan_start_s
    yield known.cleaning_since_s + suppression.longest_cleaning_s


def _fan(state: CollectorState) -> bool | None:
    fan = state.readings.get(Role.FAN_RUNNING)
    return None if fan is None or fan.quality is not Quality.GOOD else fan.value == 1.0


def _series(rows: Rows, numbers: Numbers, count: int) -> _Series:
    """The first ``count`` rows of one point, without those in which it was not read."""
    at_s, utc_s = rows.at_s[:count], rows.utc_s[:count]
    some = numbers[:count]
    if None not in some:
        return _Series(at_s, utc_s, some, None)  # type: ignore[arg-type]  # there is no None in it
    places = [place for place, number in enumerate(some) if number is not None]
    filled = [number for number in some if number is not None]
    return _Series([at_s[place] for place in places], [utc_s[place] for place in places], filled, places)


def _limit(
    plan: CollectorPlan, state: CollectorState, role: Role, one: _Series, fan: bool | None, count: int
) -> int:
    """How many of the rows one point allows by its own numbers and times."""
    point, reading = plan.points.get(role), state.readings.get(role)
    if point is None or reading is None or not one.numbers:
        return count
    if reading.quality is not Quality.GOOD:
        return one.row(0, count)
    places = _without_gap(one.at_s, reading.at.mono_s, point.channel.stale_after_s)
    if isinstance(point.channel, DiscreteChannel):
        places = min(places, _unchanged(point.channel, reading, one.numbers))
    else:
        known = state.channels[role]
        assert isinstance(known, AnalogState)  # noqa: S101  the channel above says so
        places = min(places, stretch_channel.limit(point.channel, known, one.at_s, one.numbers, fan))
    return one.row(places, count)


def _without_gap(at_s: Sequence[float], before_s: float, stale_after_s: float) -> int:
    """How many come before the first gap in which a reading would turn stale."""
    if at_s[0] - before_s > stale_after_s:
        return 0
    passed = list(map(sub, at_s[1:], at_s))
    if not passed or max(passed) <= stale_after_s:
        return len(at_s)
    return next(place for place, passed_s in enumerate(passed) if passed_s > stale_after_s) + 1


def _unchanged(point: DiscreteChannel, reading: Reading, numbers: Sequence[float]) -> int:
    """How many say the same as the reading before; none where that takes more than a look."""
    if point.at_least is not None or point.bit is not None:
        return 0
    for place, number in enumerate(numbers):
        if bool(number) is not bool(reading.raw):
            return place
    return len(numbers)


def _fresh(
    plan: CollectorPlan, state: CollectorState, rows: Rows, all_series: Mapping[Role, _Series], count: int
) -> int:
    """How many of ``count`` rows pass before a reading that nothing renews any more turns stale."""
    for role, reading in state.readings.items():
        if reading.quality is Quality.BAD:
            continue
        one = all_series.get(role)
        seen = None if one is None else one.cut(count)
        last_s = reading.at.mono_s if seen is None or not seen.numbers else seen.at_s[-1]
        stale_after_s = plan.points[role].channel.stale_after_s
        while count and rows.at_s[count - 1] - last_s > stale_after_s:
            count -= 1
    return count


def _taken(
    plan: CollectorPlan, state: CollectorState, cut: Mapping[Role, _Series], fan: bool | None, count: int
) -> Taken:
    dp = cut.get(Role.DP)
    if not count or dp is None or not dp.numbers:
        return Taken(0, state)
    known, point = state.channels[Role.DP], plan.points[Role.DP].channel
    assert isinstance(known, AnalogState)  # noqa: S101  a DP is a number
    assert isinstance(point, AnalogChannel)  # noqa: S101  as above
    damped = stretch_channel.damped(point, known, dp.at_s, dp.numbers)
    followed = stretch_window.follow(plan.trends, state, dp.at_s, damped, fan)
    if followed.calm < len(damped):
        rows = dp.row(followed.calm, count)
        return _taken(plan, state, {role: one.cut(rows) for role, one in cut.items()}, fan, rows)
    read = _read(plan, state, cut, count)
    if read.calm < len(damped):
        rows = dp.row(read.calm, count)
        return _taken(plan, state, {role: one.cut(rows) for role, one in cut.items()}, fan, rows)
    after = replace(_after(plan, state, cut, fan, damped, followed), curve=read.state)
    return Taken(count, after, dp.utc_s, damped)


def _read(plan: CollectorPlan, state: CollectorState, cut: Mapping[Role, _Series], count: int) -> Read:
    """The curve through the rows."""
    dp = cut[Role.DP]
    if plan.curve is None:
        return Read(len(dp.numbers), state.curve)
    seen: dict[Role, Seen] = {}
    for role, one in cut.items():
        point = plan.points.get(role)
        if point is not None and isinstance(point.channel, AnalogChannel) and one.numbers:
            values = stretch_channel.values(point.channel, one.numbers)
            seen[role] = Seen(range(count) if one.rows is None else one.rows, values)
    before = {role: one.value if one.quality is Quality.GOOD else None for role, one in state.readings.items()}
    return stretch_curve.follow(plan, state.curve, dp.at_s, dp.utc_s, seen, before)


def _after(
    plan: CollectorPlan,
    state: CollectorState,
    cut: Mapping[Role, _Series],
    fan: bool | None,
    damped: Sequence[float],
    followed: Followed,
) -> CollectorState:
    """The state after the last of the rows."""
    channels, readings = dict(state.channels), dict(state.readings)
    for role, one in cut.items():
        if role in plan.points and one.numbers:
            point, known = plan.points[role].channel, channels[role]
            if isinstance(point, AnalogChannel) and isinstance(known, AnalogState):
                done = damped if role is Role.DP else stretch_channel.damped(point, known, one.at_s, one.numbers)
                channels[role], readings[role] = stretch_channel.after(
                    point, known, one.at_s, one.numbers, fan, done, one.last
                )
            else:
                word: tuple[int, ...] = (one.numbers[-1],)  # type: ignore[assignment]  # 1.0 is as good a bit as 1
                channels[role], readings[role] = channel.advance(point, known, word, one.last, fan)
    after = CollectorState(
        channels,
        readings,
        followed.residual,
        followed.average,
        state.watch,
        cut[Role.DP].at_s[-1],
        state.context,
        state.explained,
    )
    return _regarded(plan, after)


def _regarded(plan: CollectorPlan, state: CollectorState) -> CollectorState:
    """Fan and cleaning say what they said before, but later: what they hold back is held back for longer."""
    if not plan.suppression:
        return state
    known = context.follow(state.context, state.readings)
    if known is state.context:
        return state
    known, _ = context.held(plan, known, max(known.fan_said_s, known.cleaning_said_s))
    return replace(state, context=known)
