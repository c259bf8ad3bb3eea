"""Operation: in which quarters of an hour did the unit operate, as far as its fan tells?

A quarter counts as operating from one whole minute of running on (our choice; 40 CFR 60.13(h)(2)(ii) speaks of
"each quadrant of the hour in which the unit operates"). What nobody knows counts as operating, so that an unread
fan can cost availability but never hide an hour.
"""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from monitor.report.permit.hour import HOUR_S, MINUTE_S, QUARTER_S, Four, Ran
from monitor.words import HistoryRow, HourRow

_MINUTES = range(60)


class Operation(NamedTuple):
    """How the unit ran in one hour.

    Attributes:
        ran: in each quarter.
        operating_s: seconds of running; what is not known counts as running.
        minutes: the numbers, 0 to 59, of the minutes whose readings count; None: those of the whole hour.
    """

    ran: tuple[Ran, Ran, Ran, Ran]
    operating_s: float
    minutes: frozenset[int] | None = None

    @property
    def counted(self) -> tuple[int, ...]:
        """The numbers, 0 to 3, of the quarters that count as operating."""
        return tuple(number for number, ran in enumerate(self.ran) if ran is not Ran.STOPPED)


#: Nobody knows: all of it counts.
NOT_KNOWN = Operation((Ran.NOT_KNOWN,) * 4, float(HOUR_S))


def is_split(fan: HourRow | None) -> bool:
    """Whether only a part of this hour counts as operating, so that minutes must be asked."""
    if fan is None or fan.good == 0 or fan.mean is None:
        return False
    return 0.0 < fan.mean < 1.0 or (fan.mean == 0.0 and not all(fan.quarters))


def of_hour(fan: HourRow | None, minutes: Mapping[int, HistoryRow]) -> Operation:
    """How the unit ran.

    Args:
        fan: the hour of its fan, 1 for running; None where there is none.
        minutes: the fan's minutes of this hour, by number from 0 to 59; empty where they are not kept.
    """
    if fan is None or fan.good == 0 or fan.mean is None:
        return NOT_KNOWN
    if is_split(fan) and minutes:
        return _by_minutes(minutes)
    return _by_hour(fan.quarters, fan.mean)


def _by_hour(known: Four, mean: float) -> Operation:
    """A fan that ran in a part of an hour whose minutes are gone may have run in each quarter."""
    state = Ran.STOPPED if mean == 0.0 else Ran.RAN
    first, second, third, fourth = (state if readings else Ran.NOT_KNOWN for readings in known)
    operating_s = sum(QUARTER_S * (mean if readings else 1.0) for readings in known)
    return Operation((first, second, third, fourth), operating_s)


def _by_minutes(minutes: Mapping[int, HistoryRow]) -> Operation:
    states = [_minute(minutes.get(number)) for number in _MINUTES]
    first, second, third, fourth = (_quarter(states[at : at + 15]) for at in range(0, 60, 15))
    ran = (first, second, third, fourth)
    operating_s = sum(_seconds(ran[number // 15], minutes.get(number)) for number in _MINUTES)
    return Operation(ran, operating_s, frozenset(_counting(states, ran)))


def _minute(row: HistoryRow | None) -> Ran:
    """A minute in which the fan started or stopped is no minute of running: its readings are of both."""
    if row is None or row.lowest is None or row.good == 0:
        return Ran.NOT_KNOWN
    return Ran.RAN if row.lowest >= 0.5 else Ran.STOPPED


def _quarter(states: list[Ran]) -> Ran:
    if Ran.RAN in states:
        return Ran.RAN
    return Ran.STOPPED if Ran.STOPPED in states else Ran.NOT_KNOWN


def _seconds(quarter: Ran, row: HistoryRow | None) -> float:
    """Of running in one minute; one of which nobody knows is as its quarter."""
    if row is None or row.mean is None or row.good == 0:
        return 0.0 if quarter is Ran.STOPPED else MINUTE_S
    return MINUTE_S * row.mean


def _counting(states: list[Ran], ran: tuple[Ran, ...]) -> Iterator[int]:
    for number, state in enumerate(states):
        if state is Ran.RAN or (state is Ran.NOT_KNOWN and ran[number // 15] is not Ran.STOPPED):
            yield number
