"""One alarm: the world in which a process, a person, the design, time and power cuts act on a single alarm."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, NamedTuple

from monitor.daemon import snapshot
from monitor.judge.alarm import Alarm, Presence, Step
from monitor.judge.lifecycle import (
    advance,
    command,
    command_between,
    confirm,
    hold,
    hold_between,
    pass_time,
    pause,
)
from monitor.judge.settings import AlarmSettings
from monitor.judge.table import Trigger
from monitor.words import Hold, HoldReason, Priority, Removal, Shelf
from tests.judge.model import books as ledger
from tests.judge.model.books import Books
from tests.judge.model.canon import UTC, at, canonical
from tests.judge.model.stride import LOOKS, PERSONS, Act, Stride

SEEN = {Act.SEE_PRESENT: Presence.PRESENT, Act.SEE_ABSENT: Presence.ABSENT, Act.SEE_NOTHING: Presence.BLIND}
SIGHT = {Act.SEE_PRESENT: True, Act.SEE_ABSENT: False, Act.SEE_NOTHING: None}
ASKED = {
    Act.ACKNOWLEDGE: Trigger.ACKNOWLEDGE,
    Act.CLEAR: Trigger.CLEAR,
    Act.SHELVE: Trigger.SHELVE,
    Act.UNSHELVE: Trigger.UNSHELVE,
    Act.REMOVE: Trigger.REMOVE,
    Act.RESTORE: Trigger.RESTORE,
}
HELD_BY = {
    Act.FAN_STOPS: Hold(HoldReason.FAN_STOPPED),
    Act.START_UP: Hold(HoldReason.START_UP),
    Act.CAUSE_STANDS: Hold(HoldReason.CONSEQUENCE, "PDAHH-101"),
    Act.FREE: None,
}


class Place(NamedTuple):
    """A state of the world, as of second 0."""

    alarm: Alarm = Alarm()
    books: Books = Books()
    #: Seconds since the last look.
    age: int = 0


class World(NamedTuple):
    """One alarm's settings, and how it is looked at.

    Attributes:
        shelf_s: every shelf lasts this long.
        stale_s: by readings: a look that is older than this does not speak for the time since.
        steps: how many seconds may pass before an act.
    """

    conf: AlarmSettings
    continuous: bool
    acts: tuple[Act, ...] = tuple(Act)
    shelf_s: int = 2
    stale_s: int = 1
    steps: tuple[int, ...] = (0, 1)

    def moves(self, place: Place) -> Iterator[tuple[Any, Place, Stride]]:
        for passed_s in self.steps:
            for act in self.acts:
                if act is Act.WAIT and passed_s == 0:
                    continue
                # A reading takes in the time before it, and a moment without one may lie before it or not.
                if act is Act.WAIT or passed_s == 0 or (act in LOOKS and not self.continuous):
                    yield self._stride(place, act, passed_s)
                else:
                    yield self._in_one(place, act, passed_s)

    def _in_one(self, place: Place, act: Act, passed_s: int) -> tuple[Any, Place, Stride]:
        """Time and an act in one, held against first the one and then the other."""
        name, in_one, stride = self._stride(place, act, passed_s)
        _, between, waited = self._stride(place, Act.WAIT, passed_s)
        _, in_two, acted = self._stride(between, act, 0)
        moments = [(one.happened, one.at.mono_s) for one in waited.fired]
        moments += [(one.happened, one.at.mono_s + passed_s) for one in acted.fired]
        same = in_one.alarm == in_two.alarm and moments == [(one.happened, one.at.mono_s) for one in stride.fired]
        if act is Act.CAUSE_STANDS and not same:
            # What fell due unnoticed before the cause came happens under it: the same, but not announced.
            announced = "raised" in [one.happened for one in stride.fired]
            same = not announced and in_one.alarm.stands == in_two.alarm.stands
        # The books are kept step by step.
        return name, in_two, stride._replace(same_in_two=same)

    def _stride(self, place: Place, act: Act, passed_s: int) -> tuple[Any, Place, Stride]:
        age = place.age + passed_s
        looked_s = float(passed_s if self.continuous else passed_s - age)
        alarm, fired = (self._at_once if self.continuous else self._by_readings)(
            place.alarm, act, float(passed_s), looked_s
        )
        settled = self._books(place.books, act, passed_s, old=age > self.stale_s)
        books = ledger.follow(settled, fired)
        stride = Stride(
            self.conf,
            act,
            self.continuous,
            passed_s,
            passed_s,
            place.alarm,
            alarm,
            fired,
            place.books,
            settled,
            books,
        )
        age = 0 if self.continuous or act in LOOKS or alarm.blind else min(age, self.stale_s + 1)
        if act in LOOKS:
            looked_s = float(passed_s)
        after = Place(
            canonical(self.conf, alarm, float(passed_s), looked_s, age),
            ledger.canonical(self.conf, books, self.stale_s + 1),
            age,
        )
        return (f"{act} +{passed_s}", after, stride)

    def _at_once(self, alarm: Alarm, act: Act, now_s: float, _looked_s: float) -> Step:
        now = at(now_s)
        if act in LOOKS:
            return advance(self.conf, alarm, SEEN[act], now)
        if act in PERSONS:
            return command(self.conf, alarm, ASKED[act], now, self._note(act, now_s))
        if act in HELD_BY:
            return hold(self.conf, alarm, HELD_BY[act], now)
        seen = Presence.BLIND if alarm.blind else Presence.PRESENT if alarm.present else Presence.ABSENT
        alarm, fired = advance(self.conf, alarm, seen, now)
        return (restored(alarm), fired) if act is Act.RESTART else (alarm, fired)

    def _by_readings(self, alarm: Alarm, act: Act, now_s: float, looked_s: float) -> Step:
        now = at(now_s)
        if act in LOOKS:
            if now_s - looked_s > self.stale_s:
                alarm = pause(alarm, looked_s)
            return confirm(self.conf, alarm, SEEN[act], now, looked_s)
        if act in PERSONS:
            return command_between(self.conf, alarm, ASKED[act], now, looked_s, self._note(act, now_s))
        if act in HELD_BY:
            return hold_between(self.conf, alarm, HELD_BY[act], now, looked_s)
        alarm, fired = pass_time(self.conf, alarm, now, looked_s)
        # What was read before the power cut speaks for no time after it.
        return (pause(restored(alarm), looked_s), fired) if act is Act.RESTART else (alarm, fired)

    def _note(self, act: Act, now_s: float) -> Shelf | Removal | None:
        if act is Act.SHELVE:
            until_s = now_s + self.shelf_s
            return Shelf(until_s, UTC + until_s, "anna", "spare part is on its way", UTC + now_s)
        return Removal("ben", "being rebuilt", UTC + now_s) if act is Act.REMOVE else None

    def _books(self, books: Books, act: Act, passed_s: int, *, old: bool) -> Books:
        for _ in range(passed_s):
            books = ledger.second(self.conf, books, continuous=self.continuous)
        if act in LOOKS:
            return ledger.look(self.conf, books, SIGHT[act], old=old and not self.continuous)
        if act in HELD_BY:
            return ledger.hold(self.conf, books, HELD_BY[act], continuous=self.continuous)
        if act is Act.RESTART and not self.continuous:
            return ledger.look(self.conf, books, None)
        return books


def restored(alarm: Alarm) -> Alarm:
    """The alarm as a daemon that was started again remembers it."""
    (again,) = snapshot.read_alarms(snapshot.write_alarms({"PDAH-101": alarm})).values()
    return again


def small(*, latching: bool, auto_clear_s: float | None = 3.0, counts_back: bool = False) -> AlarmSettings:
    """Settings with timers so short that everything can be tried."""
    return AlarmSettings(
        tag="PDAH-101",
        priority=Priority.HIGH,
        on_delay_s=2.0,
        off_delay_s=1.0,
        latching=latching,
        auto_clear_s=auto_clear_s,
        counts_back=counts_back,
    )


def slower(conf: AlarmSettings) -> AlarmSettings:
    """The same with longer timers."""
    return replace(conf, on_delay_s=4.0, off_delay_s=3.0, auto_clear_s=conf.auto_clear_s and 6.0)
