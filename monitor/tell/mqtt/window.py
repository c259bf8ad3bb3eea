"""Window: the few events that are offered and not yet confirmed, and how far everything before them is told.

The journal keeps the events; here is only what is in flight. The cursor moves over a gapless prefix: a later
confirmation waits until all before it are done. After anything doubtful the window is rewound, and the events are
offered again from the cursor on, one at a time until one was confirmed, so that a message that the broker cannot
take is recognised for certain and nothing else is blamed for it.
"""

from collections import deque
from dataclasses import dataclass


@dataclass(slots=True)
class _Offered:
    seq: int
    message_id: int
    offered_s: float
    done: bool = False


class Window:
    """What is in flight.

    Args:
        cursor: the last ``seq`` that is confirmed.
        size: most events in flight at once, 1 or more.
    """

    def __init__(self, cursor: int, size: int) -> None:
        self.cursor = cursor
        self.last_offered = cursor
        self.careful = False
        self._size = size
        self._offered: deque[_Offered] = deque()
        self._by_message_id: dict[int, _Offered] = {}

    @property
    def room(self) -> int:
        """How many more events may be offered now."""
        return max(0, (1 if self.careful else self._size) - len(self._offered))

    @property
    def in_flight(self) -> int:
        """Events offered and not answered."""
        return len(self._by_message_id)

    @property
    def head(self) -> int | None:
        """The oldest event that is not done; None when nothing is in flight."""
        return self._offered[0].seq if self._offered else None

    def offer(self, seq: int, message_id: int, now_s: float) -> None:
        """The event went to the broker under this message id."""
        entry = _Offered(seq, message_id, now_s)
        self._offered.append(entry)
        self._by_message_id[message_id] = entry
        self.last_offered = seq

    def skip(self, seq: int) -> int | None:
        """The event is done without being offered. Returns the new cursor if it moved."""
        self._offered.append(_Offered(seq, 0, 0.0, done=True))
        self.last_offered = seq
        return self._move_on()

    def seq_of(self, message_id: int) -> int | None:
        """Which event this message id carries; None for another message's."""
        entry = self._by_message_id.get(message_id)
        return None if entry is None else entry.seq

    def settle(self, message_id: int) -> int | None:
        """The event is done: confirmed, or set aside. Returns the new cursor if it moved."""
        entry = self._by_message_id.pop(message_id, None)
        if entry is None:
            return None
        entry.done = True
        self.careful = False
        return self._move_on()

    def rewind(self) -> None:
        """Forget what is in flight: it will be offered again from the cursor on, carefully."""
        self._offered.clear()
        self._by_message_id.clear()
        self.last_offered = self.cursor
        self.careful = True

    def oldest_s(self, now_s: float) -> float:
        """How long the oldest unanswered event has been in flight; 0 when there is none."""
        return max((now_s - entry.offered_s for entry in self._by_message_id.values()), default=0.0)

    def _move_on(self) -> int | None:
        before = self.cursor
        while self._offered and self._offered[0].done:
            self.cursor = self._offered.popleft().seq
        return self.cursor if self.cursor != before else None
