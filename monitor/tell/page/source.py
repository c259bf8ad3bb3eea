"""Source: where the page looks: the plant as it may be told, and the figures of the daemon's parts.

All are called on the event loop. What they return is never changed afterwards, so it may be gone through in
another thread.
"""

from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from monitor.figures import LinkFigures, MqttFigures, PhoneFigures, StoreFigures
from monitor.scan.settings import PlantPlan
from monitor.scan.state import CollectorState, LinkState
from monitor.tell.heading import SiteHeading
from monitor.tell.health import HealthReport
from monitor.words import Event, HistoryRow, Instant, PointId


class PageSite(NamedTuple):
    """What stands above the page.

    Attributes:
        time_zone: a name of the IANA database.
        version: ours.
    """

    heading: SiteHeading
    time_zone: str = "UTC"
    version: str = ""


class Outlets(NamedTuple):
    """How the outlets are; None for one that the site file does not name."""

    store: StoreFigures
    mqtt: MqttFigures | None = None
    phone: PhoneFigures | None = None


class Tier(StrEnum):
    """How finely the history is looked at."""

    STEPS = "steps"
    MINUTES = "minutes"
    HOURS = "hours"


#: Rows of each of these points that began in [since, until), Unix seconds, oldest first.
Rows = Mapping[PointId, Sequence[HistoryRow]]
#: Reads them while the loop goes on.
ReadRows = Callable[[Sequence[PointId], Tier, float, float], Awaitable[Rows]]


class Asked(NamedTuple):
    """Which events are asked for.

    Attributes:
        collector: of this one alone; empty for all.
        tags: the tags of its alarms.
        before_seq: only older ones than this event; None for all.
        since_utc_s, until_utc_s: that happened in [since, until), Unix seconds.
        most: so many, the newest of them.
        without: what happened of these kinds is passed over.
    """

    collector: str = ""
    tags: tuple[str, ...] = ()
    before_seq: int | None = None
    since_utc_s: float = 0.0
    until_utc_s: float = float("inf")
    most: int = 50
    without: tuple[str, ...] = ()


#: The events that are asked for, newest first.
ReadEvents = Callable[[Asked], Awaitable[list[Event]]]
#: Of each of these tags the last event before that moment, where there is one.
ReadBefore = Callable[[Sequence[str], float], Awaitable[list[Event]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Everything that the page is drawn from.

    Attributes:
        told, told_links: the states as they may be told, never ahead of the journal.
        latest_seq: the newest event that may be told.
        step_s: length of one step of the history.
        read_rows, read_events, read_before: look on the disk; StoreError with a sentence where that cannot be.
    """

    site: Callable[[], PageSite]
    plan: Callable[[], PlantPlan]
    told: Callable[[], Mapping[str, CollectorState]]
    told_links: Callable[[], Mapping[str, LinkState]]
    links: Callable[[], Mapping[str, LinkFigures]]
    outlets: Callable[[], Outlets]
    health: Callable[[], HealthReport]
    now: Callable[[], Instant]
    latest_seq: Callable[[], int]
    read_rows: ReadRows
    read_events: ReadEvents
    read_before: ReadBefore
    step_s: Callable[[], float] = field(default=lambda: 10.0)
