"""Stride: one act upon one alarm, with all that an invariant may ask about it."""

from enum import StrEnum
from typing import NamedTuple

from monitor.judge.alarm import Alarm, Transition
from monitor.judge.settings import AlarmSettings
from tests.judge.model.books import Books


class Act(StrEnum):
    """What may happen to an alarm."""

    SEE_PRESENT = "see it present"
    SEE_ABSENT = "see it absent"
    SEE_NOTHING = "see nothing"
    WAIT = "wait"
    ACKNOWLEDGE = "acknowledge"
    CLEAR = "clear"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    REMOVE = "take out of service"
    RESTORE = "return to service"
    FAN_STOPS = "the fan stops"
    START_UP = "the fan starts up"
    CAUSE_STANDS = "its cause stands"
    FREE = "nothing holds it"
    RESTART = "restart"


PERSONS = frozenset({Act.ACKNOWLEDGE, Act.CLEAR, Act.SHELVE, Act.UNSHELVE, Act.REMOVE, Act.RESTORE})
LOOKS = frozenset({Act.SEE_PRESENT, Act.SEE_ABSENT, Act.SEE_NOTHING})


class Stride(NamedTuple):
    """One act, ``passed_s`` after the state before; ``now_s`` is its moment.

    Attributes:
        continuous: what was seen last holds until something else is seen; else time is vouched for by readings.
        settled: the books before what was told was taken down in them.
        books: the books afterwards.
        same_in_two: of a stride in which time passed and something was done: whether first the one and then the
            other brings the same. Every other invariant speaks of strides that do one thing.
    """

    conf: AlarmSettings
    act: Act
    continuous: bool
    passed_s: float
    now_s: float
    before: Alarm
    after: Alarm
    fired: tuple[Transition, ...]
    was: Books
    settled: Books
    books: Books
    same_in_two: bool | None = None

    def __str__(self) -> str:
        told = ", ".join(f"{one.happened}@{one.at.mono_s:g} ({one.before}→{one.state})" for one in self.fired)
        return (
            f"{self.act} after {self.passed_s:g} s: [{told}]\n  before {self.before}\n  after  {self.after}"
            f"\n  books before {self.was}\n  books after  {self.books}"
        )
