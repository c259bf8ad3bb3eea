"""Tally: the hours of a day, of a month or of the whole period, counted."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, tzinfo
from statistics import fmean

from monitor.report.permit.hour import HourState, PermitHour
from monitor.report.permit.local_days import day_of, grouped


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """Hours, counted. Valid, invalid, not operating and not kept come to all of them.

    Attributes:
        label: the day (``2026-10-03``), the month (``2026-10``), or empty for the whole period.
        hours: all that begin in it.
        operating_s: seconds of operation.
        points: good readings in the valid hourly averages.
        mean_inh2o, lowest_inh2o, highest_inh2o: of the valid hourly averages; None without any.
    """

    label: str
    hours: int
    valid: int
    invalid: int
    not_operating: int
    not_kept: int
    operating_s: float
    points: int
    mean_inh2o: float | None
    lowest_inh2o: float | None
    highest_inh2o: float | None

    @property
    def operating(self) -> int:
        """Operating hours: those in which the unit operated at all."""
        return self.valid + self.invalid

    @property
    def available(self) -> float | None:
        """The share of operating hours that is valid, 0 to 1; None without any."""
        return self.valid / self.operating if self.operating else None

    def is_enough(self, least: float) -> bool | None:
        """Whether the permit's share of them is valid; None without any operating hour."""
        return self.valid >= least * self.operating - 1e-9 if self.operating else None


def tally(label: str, hours: Sequence[PermitHour]) -> Tally:
    """Count some hours."""
    states = [hour.state for hour in hours]
    valid = [hour for hour in hours if hour.state is HourState.VALID]
    means = [hour.mean_inh2o for hour in valid if hour.mean_inh2o is not None]
    return Tally(
        label=label,
        hours=len(hours),
        valid=states.count(HourState.VALID),
        invalid=states.count(HourState.INVALID),
        not_operating=states.count(HourState.NOT_OPERATING),
        not_kept=states.count(HourState.NOT_KEPT),
        operating_s=sum(hour.operating_s for hour in hours),
        points=sum(hour.points for hour in valid),
        mean_inh2o=fmean(means) if means else None,
        lowest_inh2o=min(means, default=None),
        highest_inh2o=max(means, default=None),
    )


def by_day(hours: Sequence[PermitHour], zone: tzinfo) -> tuple[Tally, ...]:
    """One of each day of the site's clock."""

    def day(hour: PermitHour) -> date:
        return day_of(hour.start_utc_s, zone)

    return tuple(tally(one.isoformat(), some) for one, some in grouped(hours, day))


def by_month(hours: Sequence[PermitHour], zone: tzinfo) -> tuple[Tally, ...]:
    """One of each month of the site's clock."""

    def month(hour: PermitHour) -> str:
        return day_of(hour.start_utc_s, zone).isoformat()[:7]

    return tuple(tally(one, some) for one, some in grouped(hours, month))
