"""Rehearsal log: the events of one collector become raisings with a beginning and an end."""

from dataclasses import dataclass, replace

from monitor.judge.table import ACTIVE
from monitor.report.rehearsal import Change, Ending, Raising
from monitor.words import AlarmState, Cause, Event

_ENDING = {
    Cause.PROCESS: Ending.PROCESS,
    Cause.TIMER: Ending.TIMER,
    Cause.PERSON: Ending.PERSON,
    Cause.DESIGN: Ending.DESIGN,
}


@dataclass(slots=True)
class _Open:
    """A raising that is not over yet, and what the DP has been while it was active."""

    raising: Raising
    lowest: float | None = None
    highest: float | None = None


class RaisingLog:
    """Takes in the events of one collector's alarms as they come.

    Attributes:
        watches: whether some alarm is active just now, so that its extremes are wanted.
        changes: the states of each alarm that ever changed, oldest first.
    """

    def __init__(self) -> None:
        self.watches = False
        self.changes: dict[str, list[Change]] = {}
        self._open: dict[str, _Open] = {}
        self._closed: list[Raising] = []

    def see(self, lowest: float, highest: float) -> None:
        """The damped DP has been between these since the last look, inH2O."""
        for one in self._open.values():
            if one.raising.back_utc_s is None:
                one.lowest = lowest if one.lowest is None else min(one.lowest, lowest)
                one.highest = highest if one.highest is None else max(one.highest, highest)

    def take(self, event: Event) -> None:
        """Something happened to an alarm; events of anything else are passed over."""
        if event.tag is None or event.state is None or event.collector is None:
            return
        changes = self.changes.setdefault(event.tag, [])
        if not changes or changes[-1].state is not event.state:
            changes.append(Change(event.at_utc_s, event.state))
        if event.happened == "raised":
            self._begin(event, event.tag, event.collector)
        elif event.tag in self._open:
            self._go_on(event, event.tag, event.state)
        self.watches = any(one.raising.back_utc_s is None for one in self._open.values())

    def raisings(self) -> tuple[Raising, ...]:
        """All of them, the oldest first; those that are not over end as they stand."""
        standing = [_with_extremes(one) for one in self._open.values()]
        return tuple(sorted([*self._closed, *standing], key=lambda one: (one.raised_utc_s, one.tag)))

    def _begin(self, event: Event, tag: str, collector: str) -> None:
        if tag in self._open:
            ending = self._open[tag].raising.ending
            self._close(tag, event.at_utc_s, Ending.RAISED_AGAIN if ending is Ending.WAITING else ending)
        raising = Raising(
            collector=collector,
            tag=tag,
            priority=event.priority,
            raised_utc_s=event.at_utc_s,
            back_utc_s=None,
            ended_utc_s=None,
            ending=Ending.STILL_ACTIVE,
            value_inh2o=event.value if event.unit == "inH2O" else None,
            suspicions=event.suspicions,
        )
        self._open[tag] = _Open(raising, event.value, event.value)

    def _go_on(self, event: Event, tag: str, state: AlarmState) -> None:
        one = self._open[tag]
        ending = _ENDING.get(event.cause or Cause.PROCESS, Ending.PROCESS)
        if state in ACTIVE:
            # What was suppressed while it was active comes out of that as the same raising.
            one.raising = replace(one.raising, back_utc_s=None, ending=Ending.STILL_ACTIVE)
        elif one.raising.back_utc_s is None:
            waits = Ending.DESIGN if ending is Ending.DESIGN else Ending.WAITING
            one.raising = replace(one.raising, back_utc_s=event.at_utc_s, ending=waits)
        elif ending is Ending.PROCESS:
            one.raising = replace(one.raising, ending=Ending.WAITING)
        if state is AlarmState.NORMAL:
            self._close(tag, event.at_utc_s, ending)

    def _close(self, tag: str, at_utc_s: float, ending: Ending) -> None:
        one = self._open.pop(tag)
        back_utc_s = one.raising.back_utc_s
        one.raising = replace(
            one.raising,
            back_utc_s=at_utc_s if back_utc_s is None else back_utc_s,
            ended_utc_s=at_utc_s,
            ending=ending,
        )
        self._closed.append(_with_extremes(one))


def _with_extremes(one: _Open) -> Raising:
    return replace(one.raising, lowest_inh2o=one.lowest, highest_inh2o=one.highest)
