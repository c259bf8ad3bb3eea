"""Benchmarks: what the published figures of an alarm system call good, each with its source.

They are targets of an annual average for one operator, "about" so much, and no law: a reason to look, not a fault.
Where nobody has published one, there is none here.
"""

from enum import StrEnum
from typing import NamedTuple

from monitor.words import Priority

ISA_2016 = "ISA-18.2-2016, table of performance metrics"
ISA_2009 = "ISA-18.2-2009, the same table; IEC 62682 has 144 and 288"
EEMUA = "EEMUA 191"

#: ISA-18.2-2016 asks for at least 30 days of data.
LEAST_DAYS = 30
#: With fewer alarms than this one alarm more or less moves a share of 5 % (ours, by arithmetic).
FEWEST_FOR_A_SPLIT = 20
#: Ten of fewer different alarms than this make more than 5 % even where all come equally often (arithmetic).
FEWEST_FOR_TOP_TEN = 200


class Verdict(StrEnum):
    """How a figure compares with its benchmark."""

    WITHIN = "within"
    MANAGEABLE = "manageable"
    ABOVE = "above"
    BELOW = "below"
    TOO_FEW = "too_few"
    NOT_WATCHED = "not_watched"
    NO_BENCHMARK = "no_benchmark"


class Benchmark(NamedTuple):
    """One published target.

    Attributes:
        acceptable: "very likely acceptable" up to here.
        manageable: "maximum manageable"; the same where the source names one figure only.
        is_least: the target is at least so much, not at most.
        is_below: the target is reached below ``acceptable``, not at it.
    """

    acceptable: float
    manageable: float
    source: str
    is_least: bool = False
    is_below: bool = False

    def verdict(self, value: float) -> Verdict:
        """How a figure compares."""
        if self.is_least:
            return Verdict.WITHIN if value >= self.acceptable else Verdict.BELOW
        if value < self.acceptable or (value == self.acceptable and not self.is_below):
            return Verdict.WITHIN
        return Verdict.MANAGEABLE if value <= self.manageable and not self.is_below else Verdict.ABOVE


def _at_most(acceptable: float, source: str, manageable: float | None = None) -> Benchmark:
    return Benchmark(acceptable, acceptable if manageable is None else manageable, source)


def _fewer_than(limit: float, source: str) -> Benchmark:
    return Benchmark(limit, limit, source, is_below=True)


# For one operator.
TEN_MINUTES = _at_most(1, ISA_2016, 2)
HOUR = _at_most(6, ISA_2016, 12)
DAY = _at_most(150, ISA_2009, 300)
PEAK_TEN_MINUTES = _at_most(10, ISA_2016)
# Shares in per cent.
HOURS_ABOVE = _at_most(1, ISA_2016)
TEN_MINUTES_ABOVE = _at_most(1, ISA_2016)
TIME_IN_FLOOD = _at_most(1, ISA_2016)
TOP_TEN = _at_most(1, ISA_2016, 5)
# Counts.
CHATTERING = _at_most(0, ISA_2016)
FLEETING = _at_most(0, ISA_2016)
STALE = _fewer_than(5, ISA_2016)
STANDING = _fewer_than(10, EEMUA)
SHELVED = _fewer_than(30, EEMUA)

#: An hour with more alarms than this is too full, and so are ten minutes with more than that (ISA-18.2-2016).
FULL_HOUR = 30
FULL_TEN_MINUTES = 10

#: Per cent of all alarms by priority: about 80 / 15 / 5, and less than 1 for a highest one (ISA-18.2-2016). Which
#: of our five stand for low, medium, high and highest is ours.
SPLIT: tuple[tuple[str, tuple[Priority, ...], Benchmark], ...] = (
    ("advisory and low", (Priority.ADVISORY, Priority.LOW), Benchmark(80, 80, ISA_2016, is_least=True)),
    ("medium", (Priority.MEDIUM,), _at_most(15, ISA_2016)),
    ("high", (Priority.HIGH,), _at_most(5, ISA_2016)),
    ("urgent", (Priority.URGENT,), _fewer_than(1, ISA_2016)),
)
