"""Averages: the hourly averages of a block, taken together, against the range of the permit.

A block's average is the mean of its valid hourly averages. It counts if at least the share of its operating hours
that the permit asks for is valid (of three hours at 75 %: all three; of 24: 18, which are the figures of 40 CFR
63.9025); under the rule of three quarters, if every operating hour in it is valid (40 CFR 63.1965: a block with an
hour that is not valid is a deviation).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from enum import StrEnum
from statistics import fmean

from monitor.judge.settings import Side
from monitor.report.permit.hour import HourState, PermitHour
from monitor.report.permit.local_days import block_of, block_reaches_beyond, grouped
from monitor.report.permit.settings import PermitSettings, ValidHour


class AverageState(StrEnum):
    """What became of a block. NOT_OVER: its last hour is still to come, so it is not yet compared."""

    VALID = "valid"
    INVALID = "invalid"
    NOT_OPERATING = "not_operating"
    NOT_KEPT = "not_kept"
    NOT_OVER = "not_over"


@dataclass(frozen=True, slots=True, kw_only=True)
class Average:
    """The average of one block.

    Attributes:
        hours: that lie in it, one or more.
        mean_inh2o: of its valid hours; None without any.
        beyond: the side on which a valid average lies outside of the range; None inside of it.
    """

    hours: tuple[PermitHour, ...]
    state: AverageState
    mean_inh2o: float | None = None
    beyond: Side | None = None

    @property
    def start_utc_s(self) -> int:
        """Unix seconds."""
        return self.hours[0].start_utc_s

    @property
    def end_utc_s(self) -> int:
        """Unix seconds."""
        return self.hours[-1].end_utc_s

    @property
    def operating_s(self) -> float:
        """Seconds of operation in it."""
        return sum(hour.operating_s for hour in self.hours)


def averages(hours: Sequence[PermitHour], settings: PermitSettings, zone: tzinfo) -> tuple[Average, ...]:
    """The blocks of hours that follow one another without a gap, oldest first."""
    found = []
    for _, some in grouped(hours, lambda hour: block_of(hour.start_utc_s, settings.average_h, zone)):
        last = some[-1]
        is_over = last is not hours[-1] or not block_reaches_beyond(last.start_utc_s, settings.average_h, zone)
        found.append(_average(tuple(some), settings, is_over=is_over))
    return tuple(found)


def _average(hours: tuple[PermitHour, ...], settings: PermitSettings, *, is_over: bool) -> Average:
    means = [hour.mean_inh2o for hour in hours if hour.state is HourState.VALID and hour.mean_inh2o is not None]
    mean = fmean(means) if means else None
    state = _state(hours, len(means), settings) if is_over else AverageState.NOT_OVER
    beyond = _beyond(mean, settings) if state is AverageState.VALID else None
    return Average(hours=hours, state=state, mean_inh2o=mean, beyond=beyond)


def _state(hours: tuple[PermitHour, ...], valid: int, settings: PermitSettings) -> AverageState:
    operating = sum(hour.is_operating for hour in hours)
    if any(hour.state is HourState.NOT_KEPT for hour in hours):
        return AverageState.NOT_KEPT
    if not operating:
        return AverageState.NOT_OPERATING
    share = 1.0 if settings.valid_hour is ValidHour.THREE_QUARTERS else settings.least_available
    is_enough = valid > 0 and valid >= share * operating - 1e-9
    return AverageState.VALID if is_enough else AverageState.INVALID


def _beyond(mean: float | None, settings: PermitSettings) -> Side | None:
    """An average on the bound itself is inside the range."""
    if mean is None:
        return None
    if settings.high_inh2o is not None and mean > settings.high_inh2o:
        return Side.ABOVE
    if settings.low_inh2o is not None and mean < settings.low_inh2o:
        return Side.BELOW
    return None
