"""Figuring: how much the relay has to do, as numbers."""

from typing import NamedTuple

from monitor.tell.phone.state import RelayState
from monitor.words import Instant


class Counts(NamedTuple):
    """How much the relay has to do.

    Attributes:
        callouts: that somebody has still to acknowledge, or that are not told yet.
        waiting: messages made and not delivered.
        oldest_waiting_s: how long the oldest of them has been waiting, scan seconds; 0 when there is none.
        held_back: alarms that flood control put together, since the daemon started.
    """

    callouts: int
    waiting: int
    oldest_waiting_s: float
    held_back: int


def figures(state: RelayState, now: Instant) -> Counts:
    """Count what is open and what waits."""
    made = [one.made_s for box in state.boxes.values() for one in box.errands.values() if not one.dropped]
    oldest_s = max(0.0, now.mono_s - min(made)) if made else 0.0
    return Counts(len(state.callouts), len(made), oldest_s, state.held_back)
