"""Collector: the world of one collector's alarms together: a bad signal over a high-high over a high.

The bands are looked at by readings, the bad signal at every moment; the fan and the link hold back from outside.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from enum import StrEnum
from math import inf
from typing import Any, NamedTuple

from monitor.daemon import snapshot
from monitor.judge.alarm import Alarm, Transition
from monitor.judge.calm import Bands, Seen, Watch, settings_of, settled
from monitor.judge.lifecycle import pause
from monitor.judge.settings import AlarmSettings, Band, Side
from monitor.judge.table import Trigger
from monitor.judge.watch import UNSEEN, begin, blinded, hold_back, look, tell, wait
from monitor.words import Cause, Hold, HoldReason, Priority, Removal, Shelf
from tests.judge.model import books as ledger
from tests.judge.model.books import Books
from tests.judge.model.canon import UTC, at, canonical
from tests.judge.model.stride import Act, Stride

BAD, HIGH_HIGH, HIGH = TAGS = ("PDT-101-BAD", "PDAHH-101", "PDAH-101")
FAN = {tag: Hold(HoldReason.FAN_STOPPED) for tag in (HIGH_HIGH, HIGH)}
LINK = {BAD: Hold(HoldReason.CONSEQUENCE, "LINE-1-LOST")}
STALE_S = 1


class Scene(StrEnum):
    """What may happen to a collector, beside what a person does."""

    READ_LOW = "read 4 inH2O"
    READ_HIGH = "read 7.5 inH2O"
    READ_HIGH_HIGH = "read 9.5 inH2O"
    READ_NOTHING = "read nothing"
    WAIT = "wait"
    FAN_STOPS = "the fan stops"
    FAN_RUNS = "the fan runs"
    LINK_LOST = "the link is lost"
    LINK_BACK = "the link is back"
    RESTART = "restart"


DAMPED = {Scene.READ_LOW: 4.0, Scene.READ_HIGH: 7.5, Scene.READ_HIGH_HIGH: 9.5, Scene.READ_NOTHING: None}


class Said(NamedTuple):
    """A person acts on one alarm."""

    tag: str
    trigger: Trigger

    def __str__(self) -> str:
        return f"{self.trigger.value} {self.tag}"


Deed = Scene | Said


class Place(NamedTuple):
    """A state of the world, as of second 0: the alarms and their books in the order of ``TAGS``."""

    alarms: tuple[Alarm, ...] = (Alarm(), UNSEEN, UNSEEN)
    books: tuple[Books, ...] = (Books(),) * 3
    fan_stopped: bool = False
    link_lost: bool = False
    damped: float | None = None
    age: int = 0
    #: Whether the watch knows a calm.
    calm: bool = False

    @property
    def held(self) -> dict[str, Hold]:
        return (FAN if self.fan_stopped else {}) | (LINK if self.link_lost else {})


class Turn(NamedTuple):
    """One deed, and what it did to the watch.

    Attributes:
        calm_same: whether the same came of it with the calm thrown away before.
        alarms: the same as a stride of each alarm, in the order of ``TAGS``.
    """

    bands: Bands
    deed: Deed
    before: Mapping[str, Alarm]
    after: Mapping[str, Alarm]
    held: Mapping[str, Hold]
    fired: tuple[Transition, ...]
    calm_same: bool
    alarms: tuple[Stride, ...]

    def __str__(self) -> str:
        told = ", ".join(f"{one.tag} {one.happened}@{one.at.mono_s:g}" for one in self.fired)
        return "\n".join([f"{self.deed}: [{told}]", *map(str, self.alarms)])


class World(NamedTuple):
    """The alarms of one collector as they are set, and what may happen to them."""

    bands: Bands
    deeds: tuple[Deed, ...]
    shelf_s: int = 1

    def moves(self, place: Place) -> Iterator[tuple[Any, Place, Turn]]:
        for deed in self.deeds:
            if deed is Scene.WAIT:
                yield self._turn(place, deed, 1)
                continue
            yield self._turn(place, deed, 0)
            if deed in DAMPED:
                yield self._turn(place, deed, 1)

    def _turn(self, place: Place, deed: Deed, passed_s: int) -> tuple[Any, Place, Turn]:
        settings = settings_of(self.bands)
        alarms = dict(zip(TAGS, place.alarms, strict=True))
        watch = settled(self.bands, alarms, seen(place.damped), place.held)
        rough = Watch(watch.alarms, (), -inf, -inf, watch.held)
        age = place.age + passed_s
        after, fired = self._do(place, watch if place.calm else rough, deed, float(passed_s), age)
        rough, fired_rough = self._do(place, rough, deed, float(passed_s), age)
        same = fired == fired_rough and after.alarms == rough.alarms and after.held == rough.held
        strides = tuple(
            self._stride(settings[tag], place, watch.alarms[tag], after.alarms[tag], deed, passed_s, age, fired)
            for tag in TAGS
        )
        turn = Turn(self.bands, deed, watch.alarms, after.alarms, after.held, fired, same, strides)
        return f"{deed} +{passed_s}", self._next(place, deed, passed_s, age, after, strides), turn

    def _do(self, place: Place, watch: Watch, deed: Deed, now_s: float, age: int) -> tuple[Watch, Any]:
        now, saw = at(now_s), seen(place.damped)
        looked_s = None if place.damped is None else now_s - age
        match deed:
            case Said(tag, trigger):
                return tell(self.bands, watch, tag, trigger, now, looked_s, self._note(trigger, now_s))
            case Scene.WAIT:
                return wait(self.bands, watch, saw, now, looked_s)
            case Scene.RESTART:
                return begin(
                    self.bands, self._remembered(watch, now_s, now_s if looked_s is None else looked_s)
                ), ()
            case Scene.FAN_STOPS | Scene.FAN_RUNS | Scene.LINK_LOST | Scene.LINK_BACK:
                return hold_back(self.bands, watch, _changed(place, deed).held, saw, now, looked_s)
            case _:
                if looked_s is not None and age > STALE_S:
                    watch = blinded(self.bands, watch, looked_s)
                return look(self.bands, watch, seen(DAMPED[deed]), now, looked_s)

    def _remembered(self, watch: Watch, now_s: float, looked_s: float) -> dict[str, Alarm]:
        read = snapshot.read_alarms(snapshot.write_alarms(watch.alarms))
        return {tag: pause(alarm, now_s if tag == BAD else looked_s) for tag, alarm in read.items()}

    def _note(self, trigger: Trigger, now_s: float) -> Shelf | Removal | None:
        if trigger is Trigger.SHELVE:
            until_s = now_s + self.shelf_s
            return Shelf(until_s, UTC + until_s, "anna", "spare part is on its way", UTC + now_s)
        return Removal("ben", "being rebuilt", UTC + now_s) if trigger is Trigger.REMOVE else None

    def _stride(
        self,
        conf: AlarmSettings,
        place: Place,
        before: Alarm,
        after: Alarm,
        deed: Deed,
        passed_s: int,
        age: int,
        fired,
    ) -> Stride:
        own = tuple(one for one in fired if one.tag == conf.tag)
        was = place.books[TAGS.index(conf.tag)]
        # The end of a shelf comes before whatever else happens in the same moment.
        let_out = [one for one in own if one.happened == "unshelved" and one.cause is Cause.TIMER]
        settled_books = self._books(
            conf, ledger.follow(was, let_out), deed, passed_s, after.hold, old=age > STALE_S
        )
        return Stride(
            conf,
            _act(conf, deed),
            conf.tag == BAD,
            passed_s,
            passed_s,
            before,
            after,
            own,
            was,
            settled_books,
            ledger.follow(settled_books, own),
            True if conf.tag == BAD and passed_s and deed in DAMPED else None,
        )

    def _books(self, conf: AlarmSettings, books: Books, deed: Deed, passed_s: int, what, *, old: bool) -> Books:
        continuous = conf.tag == BAD
        for _ in range(passed_s):
            books = ledger.second(conf, books, continuous=continuous)
        # What begins to hold an alarm back does so before it is looked at, and ends to do so after.
        if what is not None and what != books.hold:
            books = ledger.hold(conf, books, what, continuous=continuous)
        if deed in DAMPED:
            books = ledger.look(conf, books, _sight(conf, DAMPED[deed], books.present), old=old and not continuous)
        elif deed is Scene.WAIT and continuous:
            # Time alone shows a signal that was never read to be bad.
            books = ledger.look(conf, books, True if books.sight is None else books.sight)
        elif deed is Scene.RESTART:
            books = ledger.look(conf, books, None)
        return books if what == books.hold else ledger.hold(conf, books, what, continuous=continuous)

    def _next(self, place: Place, deed: Deed, passed_s: int, age: int, watch: Watch, strides) -> Place:
        place = _changed(place, deed)
        damped = place.damped
        if deed in DAMPED:
            damped, age = DAMPED[deed], 0
        elif deed is Scene.RESTART:
            damped = None
        last_s = float(passed_s if damped is None else passed_s - age)
        age = 0 if damped is None else min(age, STALE_S + 1)
        alarms, books = [], []
        for stride in strides:
            alarm, conf = stride.after, stride.conf
            # A clock of the bad signal runs up to now, those of a band up to the last reading.
            own_age = 0 if conf.tag == BAD or alarm.blind else age
            looked_s = float(passed_s) if conf.tag == BAD or alarm.blind else last_s
            alarms.append(canonical(conf, alarm, float(passed_s), looked_s, own_age))
            books.append(ledger.canonical(conf, stride.books, STALE_S + 1))
        return place._replace(
            alarms=tuple(alarms), books=tuple(books), damped=damped, age=age, calm=watch.due_s > -inf
        )


def seen(damped: float | None) -> Seen:
    return Seen(damped, None, None)


def _changed(place: Place, deed: Deed) -> Place:
    return place._replace(
        fan_stopped={Scene.FAN_STOPS: True, Scene.FAN_RUNS: False}.get(deed, place.fan_stopped),
        link_lost={Scene.LINK_LOST: True, Scene.LINK_BACK: False}.get(deed, place.link_lost),
    )


def _sight(conf: AlarmSettings, damped: float | None, present: bool) -> bool | None:
    if conf.tag == BAD:
        return damped is None
    if damped is None:
        return None
    setpoint = 9.0 if conf.tag == HIGH_HIGH else 7.0
    return damped >= (setpoint - 0.5 if present else setpoint)


_LOOK = {True: Act.SEE_PRESENT, False: Act.SEE_ABSENT, None: Act.SEE_NOTHING}
_PERSON = {
    Trigger.ACKNOWLEDGE: Act.ACKNOWLEDGE,
    Trigger.CLEAR: Act.CLEAR,
    Trigger.SHELVE: Act.SHELVE,
    Trigger.UNSHELVE: Act.UNSHELVE,
    Trigger.REMOVE: Act.REMOVE,
    Trigger.RESTORE: Act.RESTORE,
}
_OTHER = {Scene.RESTART: Act.RESTART, Scene.WAIT: Act.WAIT}


def _act(conf: AlarmSettings, deed: Deed) -> Act:
    """The same deed, as one alarm feels it."""
    if isinstance(deed, Said):
        return _PERSON[deed.trigger] if deed.tag == conf.tag else Act.FREE
    if deed in DAMPED:
        return _LOOK[_sight(conf, DAMPED[deed], False)]
    return _OTHER.get(deed, Act.FREE)


def bands_of(*, on_s: float = 1.0, latching: bool = True, auto_clear_s: float | None = 2.0) -> Bands:
    """A bad signal, a high-high that it explains, and a high that both explain."""

    def alarm(tag: str, causes: tuple[str, ...], **kinds: Any) -> AlarmSettings:
        return AlarmSettings(
            tag=tag,
            priority=Priority.HIGH,
            on_delay_s=on_s,
            off_delay_s=kinds.get("off_s", 0.0),
            latching=kinds.get("latching", False),
            auto_clear_s=auto_clear_s,
            counts_back=kinds.get("counts_back", False),
            causes=causes,
        )

    def band(settings: AlarmSettings, setpoint: float) -> Band:
        return Band(alarm=settings, side=Side.ABOVE, setpoint_inh2o=setpoint, deadband_inh2o=0.5)

    return Bands(
        (
            # The consequence stands before its cause, as it may in a site file.
            band(alarm(HIGH, (BAD, HIGH_HIGH), latching=latching, off_s=1.0), 7.0),
            band(alarm(HIGH_HIGH, (BAD,)), 9.0),
        ),
        alarm(BAD, (), counts_back=True),
    )


def only(bands: Bands, **changed: Any) -> Bands:
    """The same with other settings for the high alone."""
    high, high_high = bands.bands
    return Bands((replace(high, alarm=replace(high.alarm, **changed)), high_high), bands.bad_signal)
