"""Outbox: answers to commands that wait for the broker. It outlives a connection and is bounded.

An answer that nobody could take within half a minute helps nobody: its sender has asked again by then (the same
command id brings the same answer), or looked for himself. So answers are kept in memory, few and not for long, and
none is offered more than twice, which also ends it where a broker hangs up on one it cannot take.
"""

from collections import deque
from dataclasses import dataclass, replace

#: Answers that wait; when one more comes, the oldest is given up.
MOST_WAITING = 64

#: Answers offered and not yet confirmed; the rest waits its turn, so that events keep theirs.
MOST_IN_FLIGHT = 8

#: No answer is offered later than this after it was given, seconds.
LONGEST_WAIT_S = 30.0

_OFFERS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """One answer on its way.

    Attributes:
        code: of the answer, told beside the payload as well (MQTT 5.0 user property).
        given_s: when it was given, on the steady clock.
    """

    topic: str
    payload: bytes
    code: str
    given_s: float
    correlation: bytes | None = None
    offered: int = 0


class Outbox:
    """The answers that are not confirmed.

    Attributes:
        given_up: answers that nobody was told.
    """

    def __init__(self) -> None:
        self._waiting: deque[Reply] = deque()
        self._offered: dict[int, Reply] = {}
        self.given_up = 0

    def __len__(self) -> int:
        """How many answers are not confirmed."""
        return len(self._waiting) + len(self._offered)

    @property
    def waiting(self) -> int:
        """How many answers are not offered yet."""
        return len(self._waiting)

    def add(self, reply: Reply) -> None:
        """One more answer waits."""
        if len(self._waiting) >= MOST_WAITING:
            self._waiting.popleft()
            self.given_up += 1
        self._waiting.append(reply)

    def take(self, now_s: float) -> Reply | None:
        """The next answer to be offered, oldest first; None where there is none or too many are under way."""
        self._forget_old(now_s)
        if not self._waiting or len(self._offered) >= MOST_IN_FLIGHT:
            return None
        return self._waiting.popleft()

    def offered(self, message_id: int, reply: Reply) -> None:
        """This answer went to the broker under this message id."""
        self._offered[message_id] = replace(reply, offered=reply.offered + 1)

    def settle(self, message_id: int) -> Reply | None:
        """The broker answered; returns what it was about, None where it was no answer to a command."""
        return self._offered.pop(message_id, None)

    def connection_ended(self) -> None:
        """What was under way is offered once more on the next connection."""
        again = [reply for reply in self._offered.values() if reply.offered < _OFFERS]
        self.given_up += len(self._offered) - len(again)
        self._offered.clear()
        self._waiting.extendleft(reversed(again))

    def _forget_old(self, now_s: float) -> None:
        while self._waiting and now_s - self._waiting[0].given_s > LONGEST_WAIT_S:
            self._waiting.popleft()
            self.given_up += 1
        for message_id, reply in list(self._offered.items()):
            if now_s - reply.given_s > LONGEST_WAIT_S:
                del self._offered[message_id]
