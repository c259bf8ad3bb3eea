"""Suspicion: which message makes the broker drop the connection, if one does.

MQTT 3.1.1 has no word for "this message is too large for me": the broker just closes the connection, and a client
that offers the message again is thrown out again, for ever. A message is blamed only when it was alone under way
and the connection ended within a moment of offering it, three times in a row; a broker that says "packet too
large" (MQTT 5.0) is believed at once.
"""

from dataclasses import dataclass

from monitor.tell.mqtt.verdict import PACKET_TOO_LARGE, SESSION_TAKEN_OVER

STRIKES = 3
MOMENT_S = 2.0

#: States all go out at once after the birth, so a broker that cannot take one ends the connection almost at once.
#: The limit keeps well below the shortest wait before a reconnect: another client with our identifier throws us
#: out no sooner than that, and must not be mistaken for a large state.
STATE_MOMENT_S = 0.5

#: A connection that stood longer than this was a real one.
SHORT_LIFE_S = 10.0

#: So many short ones in a row are no accident (our choice).
SHORT_LIVES = 2

#: Below this no state message makes sense, so the limit is never learned smaller.
SMALLEST_LIMIT_BYTES = 256


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """How a connection ended.

    Attributes:
        stood_s: how long it had stood since the birth message was confirmed.
        code: the broker's reason code, if it gave one.
        lone_event: the event that was alone under way, None if none or several were.
        lone_s: how long ago that event was offered.
        largest_state_bytes: the largest retained message of this connection, 0 if none went out.
    """

    stood_s: float
    code: int | None
    lone_event: int | None
    lone_s: float
    largest_state_bytes: int


class Suspicion:
    """Counts, over connections, what keeps happening."""

    def __init__(self) -> None:
        self._event: int | None = None
        self._event_strikes = 0
        self._state_strikes = 0
        self._short_lives = 0

    def poisonous_event(self, ending: Ending) -> int | None:
        """The event that the broker cannot take, once that is certain."""
        seq = ending.lone_event
        if seq is None or ending.lone_s > MOMENT_S or ending.code == SESSION_TAKEN_OVER:
            return None
        if seq != self._event:
            self._event, self._event_strikes = seq, 0
        self._event_strikes += 1
        if ending.code != PACKET_TOO_LARGE and self._event_strikes < STRIKES:
            return None
        self._event, self._event_strikes = None, 0
        return seq

    def state_limit(self, ending: Ending) -> int | None:
        """The size above which retained messages are withheld from now on, once they are under suspicion."""
        blameless = ending.lone_event is not None or ending.code == SESSION_TAKEN_OVER
        if blameless or not ending.largest_state_bytes or ending.stood_s > STATE_MOMENT_S:
            self._state_strikes = 0
            return None
        self._state_strikes += 1
        if ending.code != PACKET_TOO_LARGE and self._state_strikes < STRIKES:
            return None
        self._state_strikes = 0
        return max(SMALLEST_LIMIT_BYTES, ending.largest_state_bytes // 2)

    def is_flapping(self, ending: Ending) -> bool:
        """Whether connections keep being accepted and ended soon after, without a reason."""
        under_suspicion = self._event_strikes or self._state_strikes
        short = ending.code is None and ending.stood_s < SHORT_LIFE_S and not under_suspicion
        self._short_lives = self._short_lives + 1 if short else 0
        return self._short_lives >= SHORT_LIVES
