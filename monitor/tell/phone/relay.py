"""Relay: what the phone makes of the journal's events and of the time: callouts, and messages that are due.

Pure: state and input give a new state and what is to be done. Events come in the order of the journal; one that
was taken before changes nothing.
"""

from monitor.tell.phone import all_well, calling, posting, resuming, settling, stepping, taking
from monitor.tell.phone.draft import Draft
from monitor.tell.phone.explaining import explain
from monitor.tell.phone.figuring import Counts, figures
from monitor.tell.phone.happenings import given_up
from monitor.tell.phone.keeping import changes, parts, whole
from monitor.tell.phone.message import Message, Sent
from monitor.tell.phone.settings import PhoneSettings
from monitor.tell.phone.state import Due, RelayState
from monitor.tell.phone.unreachable import unreached
from monitor.tell.wording_phone import is_phone
from monitor.words import Event, EventKind, Instant

__all__ = [
    "Counts",
    "Due",
    "RelayState",
    "changes",
    "due_s",
    "figures",
    "look",
    "parts",
    "resume",
    "settle",
    "take",
    "unreached",
    "whole",
]

#: Callouts that are kept; of more the oldest is ended. An alarm is in one at a time, so few plants have as many.
MOST_CALLOUTS = 2000


def take(settings: PhoneSettings, state: RelayState, event: Event, now: Instant) -> RelayState:
    """Take in one event of the journal."""
    if event.seq and event.seq <= state.seq:
        return state
    state = state._replace(seq=max(state.seq, event.seq))
    if event.kind is EventKind.ALARM and not is_phone(event.link):
        state = explain(state, event)
        draft = Draft(settings, state, now)
        taking.take_alarm(draft, event)
        return draft.done()
    if event.kind is EventKind.SYSTEM and event.happened == "message_test_asked":
        draft = Draft(settings, state, now)
        taking.take_test(draft, event)
        return draft.done()
    return state


def look(settings: PhoneSettings, state: RelayState, now: Instant) -> Due:
    """What is due at this moment."""
    if due_s(state) > now.mono_s:
        return Due(state)
    draft = Draft(settings, state, now)
    if state.well_due_s <= now.mono_s:
        state = all_well.look_at_clock(draft, state)
    messages, held_back = _work(draft)
    _bound(draft)
    after = draft.done(
        held_back=state.held_back + held_back, well_utc_s=state.well_utc_s, well_due_s=state.well_due_s
    )
    return Due(after, tuple(messages), tuple(draft.events))


def settle(settings: PhoneSettings, state: RelayState, message: Message, sent: Sent, now: Instant) -> Due:
    """Take in what became of an attempt; the event that records it is among those to be journaled."""
    draft = Draft(settings, state, now)
    settling.settle_message(draft, message, sent)
    return Due(draft.done(), (), tuple(draft.events))


def resume(settings: PhoneSettings, state: RelayState, now: Instant) -> RelayState:
    """Go on after a restart or with changed settings: nothing is on its way; who is gone is called no more."""
    draft = Draft(settings, state, now)
    resuming.resume_all(draft)
    return draft.done(held_back=0, well_due_s=now.mono_s)


def due_s(state: RelayState) -> float:
    """The scan second at which ``look`` must be called next if nothing else happens; infinity for never."""
    callouts = min([one.due_s for one in state.callouts.values()], default=state.well_due_s)
    boxes = min([one.due_s for one in state.boxes.values()], default=state.well_due_s)
    return min(callouts, boxes, state.well_due_s)


def _work(draft: Draft) -> tuple[list[Message], int]:
    """Callouts make messages, messages that fare badly make callouts go on: until nothing is due any more."""
    messages: list[Message] = []
    held_back = 0
    while True:
        draft.touched.clear()
        for callout in [one for one in draft.callouts.values() if one.due_s <= draft.now.mono_s]:
            stepping.advance(draft, callout)
        for person in draft.people():
            if draft.box(person).due_s <= draft.now.mono_s:
                posted = posting.post(draft, person)
                messages += posted.messages
                held_back += posted.held_back
        touched = [draft.callouts[key] for key in draft.touched if key in draft.callouts]
        reviewed = [draft.put(stepping.review(draft, one)) for one in touched]
        if not any(one.due_s <= draft.now.mono_s for one in reviewed):
            return messages, held_back


def _bound(draft: Draft) -> None:
    """Of too many callouts the oldest are ended, those first in which nothing stands."""
    beyond = len(draft.callouts) - MOST_CALLOUTS
    if beyond <= 0:
        return
    oldest = sorted(draft.callouts.values(), key=lambda one: (one.stands, one.began_s))
    for callout in oldest[:beyond]:
        calling.release(draft, callout)
        draft.events.append(given_up(callout, draft.now))
