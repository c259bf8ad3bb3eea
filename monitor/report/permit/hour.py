"""Permit hour: one hour of one collector, with all that decides whether its average counts.

The hours are those of UTC, as the history keeps them. In a time zone that is not a whole number of hours from UTC
they begin on the half hour (or at the quarter) of the wall clock.
"""

from dataclasses import dataclass
from enum import StrEnum

from monitor.words import Reason

HOUR_S = 3600
QUARTER_S = 900
MINUTE_S = 60

#: Readings in each quarter of an hour.
Four = tuple[int, int, int, int]


class Ran(StrEnum):
    """Whether the unit operated in a quarter of an hour."""

    RAN = "ran"
    STOPPED = "stopped"
    NOT_KNOWN = "not_known"


class HourState(StrEnum):
    """What became of an hour. NOT_KEPT: it lies before all that the history holds, so nothing is said of it."""

    VALID = "valid"
    INVALID = "invalid"
    NOT_OPERATING = "not_operating"
    NOT_KEPT = "not_kept"


class Lack(StrEnum):
    """What an hour lacks to be valid."""

    NOTHING = "nothing"
    QUARTER_EMPTY = "quarter_empty"
    TOO_FEW_QUARTERS = "too_few_quarters"
    TOO_FEW_POINTS = "too_few_points"
    POINTS_TOO_CLOSE = "points_too_close"
    NO_POINT_IN_OPERATION = "no_point_in_operation"


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitHour:
    """One hour, judged.

    Attributes:
        start_utc_s: Unix seconds.
        ran: whether the unit operated, quarter by quarter; a quarter of which nobody knows counts as operating.
        operating_s: for how long, 0 to 3600 s.
        is_maintenance: the monitor was under maintenance in some part of it.
        by_minutes: its readings were picked minute by minute, because only a part of the hour counts.
        points: good readings that its average is made of.
        quarters: the same in each quarter.
        left_out: readings that are not in the average: not good, or taken while the unit stood or under
            maintenance.
        first_utc_s, last_utc_s: the first and the last reading of the average, Unix seconds (to the minute where
            it was picked ``by_minutes``); None without any.
        mean_inh2o, lowest_inh2o, highest_inh2o: of those readings; None without any.
        worst: why the worst reading of the hour was not good.
    """

    start_utc_s: int
    state: HourState
    lack: Lack = Lack.NOTHING
    ran: tuple[Ran, Ran, Ran, Ran] = (Ran.NOT_KNOWN,) * 4
    operating_s: float = 0.0
    is_maintenance: bool = False
    by_minutes: bool = False
    points: int = 0
    quarters: Four = (0, 0, 0, 0)
    left_out: int = 0
    first_utc_s: float | None = None
    last_utc_s: float | None = None
    mean_inh2o: float | None = None
    lowest_inh2o: float | None = None
    highest_inh2o: float | None = None
    worst: Reason = Reason.NONE

    @property
    def is_operating(self) -> bool:
        """Whether it counts as an hour of operation."""
        return self.state in (HourState.VALID, HourState.INVALID)

    @property
    def end_utc_s(self) -> int:
        """Unix seconds."""
        return self.start_utc_s + HOUR_S
