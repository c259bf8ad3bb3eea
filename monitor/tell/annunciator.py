"""Annunciator: when does the horn sound, when does the beacon light, and how does the watch show that it lives?

Pure: alarm states and times in, on and off out. In the terms of ISA-18.1 (from memory, manual silence and one
common light): an alarm sounds until it is silenced or acknowledged, and lights until it is back to normal *and*
acknowledged. Silencing is no acknowledgement: it ends the noise and changes nothing else, and the next alarm
sounds again. There is no ringback: a return to normal makes no sound of its own.

The horn sounds while an alarm that counts is unanswered, newly became unacknowledged, and was not silenced since.
What was silenced is not remembered over a restart: every unanswered alarm sounds again then. That may disturb
somebody twice; the other way round an alarm that nobody saw would stay mute.

The heartbeat is for the annunciator itself: where it stands still, the watch is dead, and what the horn and beacon
show is no longer true.
"""

from collections.abc import Iterable, Mapping

from monitor.judge.table import ACTIVE, UNANSWERED
from monitor.words import AlarmState, Priority

HORN = "horn"
BEACON = "beacon"
HEARTBEAT = "heartbeat"

#: How long a test sounds and lights, scan seconds.
TEST_S = 10.0
#: The heartbeat counts up to this and goes on from 0: what one register holds.
LAST_COUNT = 0xFFFF


class Annunciator:
    """What horn and beacon show.

    Args:
        least_priority: alarms below it move neither.
    """

    def __init__(self, least_priority: Priority) -> None:
        self._least = least_priority
        self._alarms: dict[str, tuple[AlarmState, Priority]] = {}
        self._sounding: set[str] = set()
        self._lit: set[str] = set()
        self._test_horn_until_s = self._test_until_s = float("-inf")

    def see(self, tag: str, state: AlarmState, priority: Priority) -> None:
        """Take in what is told of an alarm: at the start once each, then after every change; again is harmless."""
        was = self._alarms[tag][0] if self._counts(tag) else None
        self._alarms[tag] = (state, priority)
        self._light(tag)
        if not self._counts(tag) or state not in UNANSWERED:
            self._sounding.discard(tag)
        elif was is None or (state is AlarmState.UNACKNOWLEDGED and was is not state):
            self._sounding.add(tag)

    def silence(self) -> None:
        """End the noise, of a test too; the next alarm sounds again."""
        self._sounding.clear()
        self._test_horn_until_s = float("-inf")

    def test(self, now_s: float) -> None:
        """Sound and light for ``TEST_S``, so that people know what to listen for."""
        self._test_horn_until_s = self._test_until_s = now_s + TEST_S

    def forget(self, tags: Iterable[str]) -> None:
        """Drop alarms that are no more."""
        for tag in tags:
            self._alarms.pop(tag, None)
            self._sounding.discard(tag)
            self._lit.discard(tag)

    def count_from(self, least_priority: Priority) -> None:
        """Go by another least priority: what did not count before sounds if it is unanswered."""
        counted = {tag for tag in self._alarms if self._counts(tag)}
        self._least = least_priority
        for tag, (state, _) in self._alarms.items():
            self._light(tag)
            if not self._counts(tag):
                self._sounding.discard(tag)
            elif tag not in counted and state in UNANSWERED:
                self._sounding.add(tag)

    def outputs(self, now_s: float) -> Mapping[str, bool]:
        """Return whether the horn sounds and the beacon lights."""
        return {
            HORN: bool(self._sounding) or now_s < self._test_horn_until_s,
            BEACON: bool(self._lit) or now_s < self._test_until_s,
        }

    def _counts(self, tag: str) -> bool:
        return tag in self._alarms and self._alarms[tag][1].rank >= self._least.rank

    def _light(self, tag: str) -> None:
        state, _ = self._alarms[tag]
        if self._counts(tag) and state in ACTIVE | UNANSWERED:
            self._lit.add(tag)
        else:
            self._lit.discard(tag)


class Heartbeat:
    """A count that goes on while the watch lives, and stands still when it does not."""

    def __init__(self) -> None:
        self.count = 0
        self._next_s = float("-inf")

    def beat(self, now_s: float, period_s: float, *, is_moving: bool) -> int:
        """Return the count: one more each ``period_s`` while ``is_moving``, never two at once to catch up."""
        if is_moving and now_s >= self._next_s:
            self.count = 0 if self.count == LAST_COUNT else self.count + 1
            self._next_s = now_s + period_s
        return self.count
