"""Draft: a state while it is being changed. What it was made from stays as it is."""

import math
from collections.abc import Iterable

from monitor.tell.phone import schedule
from monitor.tell.phone.callout import Callout, Entry
from monitor.tell.phone.errand import Box, Errand, Lane
from monitor.tell.phone.refs import ref_of
from monitor.tell.phone.routing import named
from monitor.tell.phone.settings import PhoneSettings
from monitor.tell.phone.state import RelayState, lane_key
from monitor.words import Event, Instant

_ALONE = Box()
_WELL = Lane()


class Draft:
    """The changes of one input.

    Args:
        settings: the relay is run by.
        state: before them.
        now: this moment.

    Attributes:
        events: to be journaled.
        touched: callouts of which a message fared otherwise than hoped; they are reviewed.
    """

    def __init__(self, settings: PhoneSettings, state: RelayState, now: Instant) -> None:
        self.settings, self.now = settings, now
        self.events: list[Event] = []
        self.touched: dict[str, None] = {}
        self.callouts = dict(state.callouts)
        self.by_tag, self.by_cause = dict(state.by_tag), dict(state.by_cause)
        self.lanes = dict(state.lanes)
        self.explains, self.awaited = state.explains, state.awaited
        self._state = state
        self._boxes = dict(state.boxes)
        self._errands: dict[str, dict[str, Errand]] = {}

    def put(self, callout: Callout) -> Callout:
        """Keep the callout as it is now; return it with the second at which it is due."""
        route = named(self.settings, callout.route)
        due_s = math.inf if route is None else schedule.due_s(self.settings, route, callout)
        kept = callout._replace(due_s=due_s)
        self.callouts[callout.key] = kept
        for entry in kept.entries:
            self.by_tag[entry.alarm.tag] = kept.key
        for cause in kept.causes:
            self.by_cause[cause_key(kept.route, cause)] = kept.key
        return kept

    def drop(self, callout: Callout) -> None:
        """The callout is over."""
        self.callouts.pop(callout.key, None)
        for entry in callout.entries:
            self.forget_tag(callout, entry)
        for cause in callout.causes:
            if self.by_cause.get(cause_key(callout.route, cause)) == callout.key:
                del self.by_cause[cause_key(callout.route, cause)]

    def forget_tag(self, callout: Callout, entry: Entry) -> None:
        """That alarm is no longer in that callout."""
        if self.by_tag.get(entry.alarm.tag) == callout.key:
            del self.by_tag[entry.alarm.tag]

    def errands(self, person: str) -> dict[str, Errand]:
        """What that person has still to get, by ref."""
        if person not in self._errands:
            self._errands[person] = dict(self.box(person).errands)
        return self._errands[person]

    def box(self, person: str) -> Box:
        """The person's box, but for the errands."""
        return self._boxes.get(person, _ALONE)

    def put_box(self, person: str, box: Box) -> None:
        """Keep the person's box; its errands are kept apart."""
        self._boxes[person] = box

    def people(self) -> Iterable[str]:
        """Everybody who has a box."""
        return tuple(self._boxes | self._errands)

    def errand(self, person: str, ref: str) -> Errand | None:
        """One message that is not delivered yet."""
        return self.errands(person).get(ref)

    def put_errand(self, errand: Errand) -> Errand:
        """Keep a message that has its ref."""
        self.errands(errand.person)[errand.ref] = errand
        self.wake(errand.person, errand.due_s)
        return errand

    def add_errand(self, errand: Errand) -> Errand:
        """A new message gets its ref."""
        ref = ref_of(errand.kind.value, errand.person, errand.salt, errand.ids)
        return self.put_errand(errand._replace(ref=ref))

    def remove_errand(self, errand: Errand) -> None:
        """The message is delivered, or nobody needs it."""
        self.errands(errand.person).pop(errand.ref, None)
        for key in errand.callouts:
            if (callout := self.callouts.get(key)) is not None:
                gone = (errand.person, errand.ref)
                self.callouts[key] = callout._replace(out=tuple([one for one in callout.out if one != gone]))

    def wake(self, person: str, due_s: float = -math.inf) -> None:
        """The person's box must be looked at by then."""
        box = self.box(person)
        if due_s < box.due_s:
            self.put_box(person, box._replace(due_s=due_s))

    def lane(self, person: str, channel: str) -> Lane:
        """How that channel is doing."""
        return self.lanes.get(lane_key(person, channel), _WELL)

    def put_lane(self, person: str, channel: str, lane: Lane) -> None:
        """Keep how that channel is doing."""
        self.lanes[lane_key(person, channel)] = lane

    def done(self, **changes: object) -> RelayState:
        """The state after all that."""
        for person, errands in self._errands.items():
            self._boxes[person] = self.box(person)._replace(errands=errands)
        return self._state._replace(
            callouts=self.callouts,
            boxes=self._boxes,
            lanes=self.lanes,
            by_tag=self.by_tag,
            by_cause=self.by_cause,
            awaited=self.awaited,
            **changes,  # type: ignore[arg-type]  # fields of the state, by the callers in this room
        )


def cause_key(route: str, cause: str) -> str:
    """Under which the callout of a route for a cause is found."""
    return f"{route}\n{cause}"
