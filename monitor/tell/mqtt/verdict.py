"""Verdict: what a reason code of the broker means for the message it answers (MQTT 5.0 §2.4).

MQTT 3.1.1 has no reason codes: a broker whose access list forbids a message confirms it all the same and drops it,
and nobody can tell. That is why version 5 is the default.
"""

from enum import Enum


class Verdict(Enum):
    """What to do next."""

    CONFIRMED = "confirmed"
    #: Somebody may mend it (rights, quota): keep the event, ask again slowly, tell the rest afterwards in order.
    HOLD = "hold"
    #: The broker will never take this message, whoever asks: set it aside and go on.
    POISON = "poison"
    #: The connection itself is in doubt: begin a new one.
    RECONNECT = "reconnect"


#: Topic name invalid, packet too large, payload format invalid: the message itself is at fault.
_POISON = frozenset({0x90, 0x95, 0x99})

#: Packet identifier in use: the two sides disagree about what is in flight.
_RECONNECT = frozenset({0x91})

SESSION_TAKEN_OVER = 0x8E
PACKET_TOO_LARGE = 0x95

_FIRST_FAILURE = 0x80


def verdict_of(code: int) -> Verdict:
    """What to do about a message that was answered with this reason code, 0 to 255."""
    if code < _FIRST_FAILURE:
        return Verdict.CONFIRMED
    if code in _POISON:
        return Verdict.POISON
    if code in _RECONNECT:
        return Verdict.RECONNECT
    return Verdict.HOLD
