"""Relay: what the phone makes of the journal's events and of the time: callouts, and messages that are due.

Pure: state and input give a new state and what is to be done. Events come in the order of the journal; one that
was taken before changes nothing.
"""

from typing import NamedTuple

from monitor.tell.phone.message import Message, Sent
from monitor.tell.phone.settings import PhoneSettings
from monitor.words import Event, Instant


class RelayState(NamedTuple):
    """Everything the phone must not forget; bounded.

    Attributes:
        seq: the last event that was taken in.
    """

    seq: int = 0


class Due(NamedTuple):
    """What a look at the time brought.

    Attributes:
        messages: to be handed to the gateways now; each counts as on its way until it is settled.
        events: to be journaled.
    """

    state: RelayState
    messages: tuple[Message, ...] = ()
    events: tuple[Event, ...] = ()


def take(settings: PhoneSettings, state: RelayState, event: Event, now: Instant) -> RelayState:
    """Take in one event of the journal."""
    raise NotImplementedError


def look(settings: PhoneSettings, state: RelayState, now: Instant) -> Due:
    """What is due at this moment."""
    raise NotImplementedError


def settle(settings: PhoneSettings, state: RelayState, message: Message, sent: Sent, now: Instant) -> Due:
    """Take in what became of an attempt; the event that records it is among those to be journaled."""
    raise NotImplementedError


def resume(settings: PhoneSettings, state: RelayState, now: Instant) -> RelayState:
    """Go on after a restart or with changed settings: nothing is on its way; who is gone is called no more."""
    raise NotImplementedError


def due_s(state: RelayState) -> float:
    """The scan second at which ``look`` must be called next if nothing else happens; infinity for never."""
    raise NotImplementedError


def unreached(state: RelayState) -> str:
    """A sentence where nobody could be reached for some alarm; empty while all is well."""
    raise NotImplementedError


def parts(state: RelayState) -> dict[str, str]:
    """The state as texts by key, one for each callout, so that only what changed need be written."""
    raise NotImplementedError


def whole(texts: dict[str, str]) -> RelayState:
    """The state again; ValueError where the texts cannot be understood."""
    raise NotImplementedError
