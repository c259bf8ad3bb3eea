"""Demo view: what the demonstration shows at one moment, as plain data.

Whoever watches the daemon fills it; ``demo_screen`` draws it. Nothing here knows how it is drawn or where the
figures come from.
"""

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.judge.settings import Band
from monitor.words import AlarmState, Event, Instant, Quality, Reading, Role


@dataclass(frozen=True, slots=True)
class AlarmView:
    """One alarm; ``since_utc_s`` is when it took its present state, None if it never left normal."""

    tag: str
    state: AlarmState
    since_utc_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CollectorView:
    """One collector.

    Attributes:
        trend: DP over equal stretches of time, oldest first; None where it could not be trusted.
    """

    name: str
    description: str
    readings: Mapping[Role, Reading]
    bands: tuple[Band, ...]
    alarms: tuple[AlarmView, ...]
    trend: tuple[float | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Addresses:
    """Where a newcomer can look in.

    Attributes:
        base_topic: everything the daemon publishes lies below it.
        http_url: without a path and without a slash at the end.
    """

    modbus: str
    mqtt_host: str
    mqtt_port: int
    base_topic: str
    http_url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoView:
    """Everything on the screen at one moment.

    Attributes:
        started: both clocks when the demonstration began; plant time counts from there.
        speed: plant seconds in one real second.
        events: the newest last, as many as the one who fills it keeps.
        problem: a sentence to show above all else, empty if there is none.
    """

    site: str
    started: Instant
    now: Instant
    speed: float
    collectors: tuple[CollectorView, ...]
    events: tuple[Event, ...]
    addresses: Addresses
    problem: str = ""

    @property
    def plant_s(self) -> float:
        """Plant time since the demonstration began, seconds."""
        return max(0.0, self.now.mono_s - self.started.mono_s)

    def since_start(self, utc_s: float) -> str:
        """Return a stamp as plant time since the start, h:mm:ss."""
        return duration(utc_s - self.started.utc_s)


def duration(seconds: float) -> str:
    """Return seconds as h:mm:ss; below zero counts as zero."""
    whole = max(0, int(seconds))
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


@dataclass(slots=True)
class Trend:
    """Keeps the mean DP of the last equal stretches of time of one collector.

    Args:
        step_s: how long a stretch is, scan seconds, above 0.
        length: how many are kept.
    """

    step_s: float
    length: int
    _means: deque[float | None] = field(default_factory=deque)
    _number: int | None = None
    _sum: float = 0.0
    _count: int = 0

    def note(self, reading: Reading) -> None:
        """Take in one DP reading, in the order of time; a bad one, or none at all, leaves a hole."""
        number = int(reading.at.mono_s / self.step_s)
        if self._number is not None and number > self._number:
            self._close(number - self._number)
        self._number = number
        if reading.quality is not Quality.BAD and reading.value is not None:
            self._sum += reading.value
            self._count += 1

    def shown(self) -> tuple[float | None, ...]:
        """Return the stretches so far, oldest first, the one still running last."""
        return (*self._means, self._mean())

    def _mean(self) -> float | None:
        return self._sum / self._count if self._count else None

    def _close(self, stretches: int) -> None:
        self._means.append(self._mean())
        self._means.extend([None] * min(stretches - 1, self.length))
        self._sum, self._count = 0.0, 0
        while len(self._means) > self.length - 1:
            self._means.popleft()
