"""Figures: what is known of an alarm system over one period. Counts are of the whole site, not of one operator."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from monitor.judge.performance.rates import Flood, Peak
from monitor.judge.performance.span import Span, total_s
from monitor.words import AlarmState, Priority


class Frequent(NamedTuple):
    """One alarm and how many times it did something; ``place`` is its collector or link."""

    tag: str
    place: str
    times: int


class Standing(NamedTuple):
    """One alarm that is active, and since when (Unix seconds)."""

    tag: str
    place: str
    since_utc_s: float
    is_stale: bool


class Waiting(NamedTuple):
    """One alarm that waits for its answer, and since when (Unix seconds)."""

    tag: str
    place: str
    since_utc_s: float


class Unseen(NamedTuple):
    """One alarm that the timer cleared before anybody had acknowledged it; Unix seconds.

    Attributes:
        raised_utc_s: None where its event does not say.
    """

    tag: str
    place: str
    raised_utc_s: float | None
    cleared_utc_s: float


class HeldNow(NamedTuple):
    """One alarm that is shelved, suppressed by design or out of service; Unix seconds.

    Attributes:
        by: empty where no person did it.
        until_utc_s: the promised end of a shelving.
    """

    tag: str
    place: str
    state: AlarmState
    since_utc_s: float
    by: str
    reason: str
    until_utc_s: float | None


class HeldTime(NamedTuple):
    """How many alarms were in one of those states at some time, how often, and for how long in sum."""

    alarms: int
    times: int
    total_s: float


class Full(NamedTuple):
    """Periods of one length with more alarms than they should have, among those in which somebody watched."""

    above: int
    watched: int

    @property
    def percent(self) -> float | None:
        """None where nobody watched."""
        return 100 * self.above / self.watched if self.watched else None


class StaleDay(NamedTuple):
    """The day with the most stale alarms; days are counted off from the period's start."""

    alarms: int
    start_utc_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """How long alarms waited to be acknowledged, of those acknowledged in the period; seconds.

    Attributes:
        median_s, ninetieth_s, longest_s: None where nobody acknowledged. Ninety of a hundred were at least as
            quick as ``ninetieth_s`` (nearest rank).
        longest_tag: whose.
        waiting: not acknowledged yet at the period's end, the longest first.
        never: waits that ended in the period without an acknowledgement: by the timer, or because the alarm was
            taken out of the site file.
        put_aside: waits that ended because a person shelved the alarm or took it out of service.
        unseen: alarms that the timer cleared before anybody had acknowledged them, in order.
    """

    acknowledged: int
    median_s: float | None
    ninetieth_s: float | None
    longest_s: float | None
    longest_tag: str
    waiting: tuple[Waiting, ...]
    never: int
    put_aside: int
    unseen: tuple[Unseen, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """How much of the period is known.

    Attributes:
        watched: the stretches in which somebody watched.
        ends_unsaid: how often the watch ended without a word (power cut, kill).
        known_from_utc_s: of the oldest event there is, None for none; what was before is not known.
    """

    period: Span
    watched: tuple[Span, ...]
    ends_unsaid: int
    known_from_utc_s: float | None

    @property
    def watched_s(self) -> float:
        """Seconds in which somebody watched."""
        return total_s(self.watched)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """The alarms that were announced; what a hold kept back and tests are not among them.

    Attributes:
        tags_raised: different alarms among them.
        most_frequent: at most ten.
    """

    raised: int
    by_priority: Mapping[Priority, int]
    tags_raised: int
    most_frequent: tuple[Frequent, ...]
    peak_ten_minutes: Peak
    peak_hour: Peak
    peak_day: Peak
    full_ten_minutes: Full
    full_hours: Full
    floods: tuple[Flood, ...]

    def percent_of(self, *priorities: Priority) -> float | None:
        """Share of these priorities in all alarms that have one; None where there is none."""
        known = sum(self.by_priority.values())
        return 100 * sum(self.by_priority.get(one, 0) for one in priorities) / known if known else None

    @property
    def top_ten_percent(self) -> float | None:
        """Share of the ten most frequent alarms in all; None where there was none."""
        return 100 * sum(one.times for one in self.most_frequent) / self.raised if self.raised else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Nuisance:
    """Alarms that wear people out.

    Attributes:
        chattering: by the number of bursts.
        standing: active at the period's end, the longest first.
        stale_day: None where no alarm was stale.
    """

    chattering: tuple[Frequent, ...]
    fleeting: tuple[Frequent, ...]
    standing: tuple[Standing, ...]
    stale_day: StaleDay | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Holds:
    """What was held back, at the period's end and during it; ``times`` has each of the three states."""

    now: tuple[HeldNow, ...]
    times: Mapping[AlarmState, HeldTime]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmFigures:
    """Everything about one period.

    Attributes:
        operators: among whom the alarms are taken to be shared evenly.
        refused: refused commands by code.
        tested: how often an alarm was tested.
    """

    coverage: Coverage
    operators: int
    load: Load
    nuisance: Nuisance
    answers: Answers
    holds: Holds
    refused: Mapping[str, int]
    tested: int

    def average(self, per_s: float) -> float | None:
        """Alarms for one operator in so many seconds of watched time; None where nobody watched."""
        watched_s = self.coverage.watched_s
        return self.load.raised / watched_s * per_s / self.operators if watched_s else None

    @property
    def flood_s(self) -> float:
        """Seconds in flood, in the period."""
        end_utc_s = self.coverage.period.end_utc_s
        return sum(
            (end_utc_s if one.end_utc_s is None else one.end_utc_s) - one.start_utc_s for one in self.load.floods
        )

    @property
    def flood_percent(self) -> float | None:
        """Share of the watched time that was in flood; None where nobody watched."""
        watched_s = self.coverage.watched_s
        return min(100.0, 100 * self.flood_s / watched_s) if watched_s else None
