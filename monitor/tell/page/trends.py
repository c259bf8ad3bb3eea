"""Trends: the last eight hours of every collector in 96 pieces of five minutes, for the small curve on its card.

About a kilobyte a collector. Each change of a collector's state is noted in a time that does not hang on how much
is held. The lowest and the highest DP are those that were noted; an alarm or a blindness lasts until the next
change, through pieces of which nothing else is known.
"""

import math
from array import array
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from monitor.words import Priority

STEP_S = 300
COUNT = 96
#: Cleanings in one piece are counted up to here.
MOST = 255
_NOT_NOTED = -1.0
_PRIORITIES: tuple[str | None, ...] = (None, *(priority.value for priority in Priority))

Payload = dict[str, Any]


class Shown(NamedTuple):
    """What a collector shows at one moment.

    Attributes:
        dp_inh2o: None while it is bad.
        worst: of its active alarms; None without any.
        cleaned_utc_s: when its newest cleaning cycle ended; None before the first.
    """

    dp_inh2o: float | None
    worst: Priority | None
    cleaned_utc_s: float | None = None


class Past(NamedTuple):
    """A piece of what was before anybody noted: it fills what is empty, and overrules nothing.

    Attributes:
        at_utc_s: a moment within the piece.
        low_inh2o, high_inh2o: None where nothing good was read.
        blind: something bad was read.
    """

    at_utc_s: float
    low_inh2o: float | None = None
    high_inh2o: float | None = None
    blind: bool = False
    cleanings: int = 0
    worst: Priority | None = None


class Ring:
    """The last pieces of one collector."""

    __slots__ = ("_alarm", "_blind", "_cleaned_utc_s", "_cleanings", "_high", "_low", "_newest", "_now")

    def __init__(self) -> None:
        self._low, self._high = _floats(), _floats()
        self._cleanings, self._alarm, self._blind = bytearray(COUNT), bytearray(COUNT), bytearray(COUNT)
        self._newest: int | None = None
        self._now = (0, 0)
        # Before the first note nobody knows which cycles are counted already: they are filled in.
        self._cleaned_utc_s: float | None = _NOT_NOTED

    def note(self, at_utc_s: float, shown: Shown) -> None:
        """Take in what shows from this moment on."""
        worst = 0 if shown.worst is None else shown.worst.rank + 1
        if (place := self._place(at_utc_s)) is None:
            return
        self._now = (worst, int(shown.dp_inh2o is None))
        self._mark(place, *self._now)
        if shown.dp_inh2o is not None:
            self._stretch(place, shown.dp_inh2o, shown.dp_inh2o)
        self._count(shown.cleaned_utc_s)

    def fill(self, past: Iterable[Past]) -> None:
        """Put in what was before; nothing is moved on by it."""
        for one in past:
            place = self._held(int(one.at_utc_s // STEP_S))
            if place is None:
                continue
            if one.low_inh2o is not None and one.high_inh2o is not None:
                self._stretch(place, one.low_inh2o, one.high_inh2o)
            self._mark(place, 0 if one.worst is None else one.worst.rank + 1, int(one.blind))
            self._cleanings[place] = min(MOST, self._cleanings[place] + one.cleanings)

    def pieces(self, now_utc_s: float) -> Payload:
        """All pieces, the oldest first; the last is running."""
        self._place(now_utc_s)
        last = int(now_utc_s // STEP_S)
        places = [self._held(number) for number in range(last - COUNT + 1, last + 1)]
        return {
            "low": [_number(self._low, place) for place in places],
            "high": [_number(self._high, place) for place in places],
            "cleanings": [0 if place is None else self._cleanings[place] for place in places],
            "alarm": [None if place is None else _PRIORITIES[self._alarm[place]] for place in places],
            "blind": [0 if place is None else self._blind[place] for place in places],
        }

    def _place(self, at_utc_s: float) -> int | None:
        """Where that moment lies, moving on if it must; None where it is too long ago to be held."""
        number = int(at_utc_s // STEP_S)
        if self._newest is None or number <= self._newest - COUNT:
            # A clock that was set back by more than is held: what lies in the future is none of ours.
            self._begin(number)
        elif number > self._newest:
            self._move_on(number)
        return self._held(number)

    def _held(self, number: int) -> int | None:
        if self._newest is None or not self._newest - COUNT < number <= self._newest:
            return None
        return number % COUNT

    def _begin(self, number: int) -> None:
        for place in range(COUNT):
            self._clear(place, 0, 0)
        self._newest = number

    def _move_on(self, number: int) -> None:
        newest = number if self._newest is None else self._newest
        for fresh in range(max(newest + 1, number - COUNT + 1), number + 1):
            self._clear(fresh % COUNT, *self._now)
        self._newest = number

    def _clear(self, place: int, worst: int, blind: int) -> None:
        self._low[place] = self._high[place] = math.nan
        self._cleanings[place], self._alarm[place], self._blind[place] = 0, worst, blind

    def _mark(self, place: int, worst: int, blind: int) -> None:
        self._alarm[place] = max(self._alarm[place], worst)
        self._blind[place] |= blind

    def _stretch(self, place: int, low: float, high: float) -> None:
        # Written so that a piece without a figure (NaN) takes the first.
        if not self._low[place] <= low:
            self._low[place] = low
        if not self._high[place] >= high:
            self._high[place] = high

    def _count(self, cleaned_utc_s: float | None) -> None:
        before, self._cleaned_utc_s = self._cleaned_utc_s, cleaned_utc_s
        if cleaned_utc_s is None or before in (cleaned_utc_s, _NOT_NOTED):
            return
        place = self._held(int(cleaned_utc_s // STEP_S))
        if place is not None:
            self._cleanings[place] = min(MOST, self._cleanings[place] + 1)


class Trends:
    """The rings of all collectors, by name."""

    def __init__(self) -> None:
        self._rings: dict[str, Ring] = {}

    def note(self, name: str, at_utc_s: float, shown: Shown) -> None:
        """Take in what one collector shows."""
        ring = self._rings.get(name)
        if ring is None:
            ring = self._rings[name] = Ring()
        ring.note(at_utc_s, shown)

    def fill(self, name: str, past: Iterable[Past]) -> None:
        """Put in what was before; a collector of which nothing was noted yet is passed over."""
        if (ring := self._rings.get(name)) is not None:
            ring.fill(past)

    def keep(self, names: Mapping[str, object]) -> None:
        """Forget every collector that is not among these."""
        self._rings = {name: ring for name, ring in self._rings.items() if name in names}

    def payload(self, names: Iterable[str], now_utc_s: float) -> Payload:
        """The pieces of these collectors; one of which nothing was noted yet is left out."""
        return {
            "step_s": STEP_S,
            "start_utc_s": (int(now_utc_s // STEP_S) - COUNT + 1) * STEP_S,
            "count": COUNT,
            "collectors": {name: self._rings[name].pieces(now_utc_s) for name in names if name in self._rings},
        }


def _floats() -> "array[float]":
    return array("f", [math.nan]) * COUNT


def _number(figures: "array[float]", place: int | None) -> float | None:
    value = math.nan if place is None else figures[place]
    return None if math.isnan(value) else round(value, 2)
