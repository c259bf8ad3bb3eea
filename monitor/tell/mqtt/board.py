"""Board: the retained messages, the newest of each topic, and which of them are due to be published.

Nothing queues up: a newer message replaces an older one that has not gone out yet, so the board is as large as the
site and no larger, however long the broker is gone.
"""

import heapq
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

#: Either the payload itself, or a function that builds it when its turn has come.
Content = bytes | Callable[[], bytes]


class Message(NamedTuple):
    """One retained message; ``confirmed`` asks for QoS 1, an empty payload removes the topic from the broker."""

    topic: str
    payload: bytes
    confirmed: bool


@dataclass(slots=True)
class _Notice:
    content: Content
    confirmed: bool
    dirty: bool = True
    due_s: float = 0.0
    published_s: float = -math.inf
    gone: bool = False
    renewed: bool = False


class Board:
    """The retained messages of one outlet.

    Args:
        period_s: a topic is published at most this often unless it is urgent, seconds.
    """

    def __init__(self, period_s: float) -> None:
        self._period_s = period_s
        self._notices: dict[str, _Notice] = {}
        self._due: list[tuple[float, str]] = []

    def __len__(self) -> int:
        """How many topics wait to be published."""
        return sum(notice.dirty for notice in self._notices.values())

    def pin(self, topic: str, content: Content, now_s: float, *, urgent: bool = False) -> None:
        """Put up the newest message of a topic; an urgent one goes out at once and at QoS 1."""
        notice = self._notices.get(topic)
        if notice is None:
            notice = self._notices[topic] = _Notice(content, urgent, dirty=False)
        if notice.dirty and not urgent:
            # It waits already, and not for longer than it would have to now; most calls end here.
            notice.content, notice.gone = content, False
            return
        was_dirty_until = notice.due_s if notice.dirty else math.inf
        notice.content, notice.gone = content, False
        # A message that replaces an urgent one which is still waiting inherits its urgency.
        notice.confirmed = urgent or (notice.dirty and notice.confirmed)
        due_s = now_s if urgent else max(now_s, notice.published_s + self._period_s)
        self._call_for(topic, notice, min(due_s, was_dirty_until))

    def take_down(self, topic: str, now_s: float) -> None:
        """The topic is no more: an empty retained message removes it, whenever the broker can be reached."""
        notice = self._notices.setdefault(topic, _Notice(b"", confirmed=True, dirty=False))
        notice.content, notice.confirmed, notice.gone = b"", True, True
        self._call_for(topic, notice, now_s)

    def again(self, now_s: float) -> None:
        """A new connection: the broker may have forgotten everything, so all of it is due.

        This does not count for the period: what is told at the start is mostly that nothing was read yet, and
        the first reading should not have to wait because of it.
        """
        self._due.clear()
        for topic, notice in self._notices.items():
            notice.dirty, notice.renewed = False, True
            self._call_for(topic, notice, now_s)

    def take(self, now_s: float, most: int) -> list[Message]:
        """Up to ``most`` messages that are due, in the order in which they fell due."""
        taken: list[Message] = []
        while self._due and self._due[0][0] <= now_s and len(taken) < most:
            due_s, topic = heapq.heappop(self._due)
            notice = self._notices.get(topic)
            # A topic that was called for anew left its old place in the heap behind.
            if notice is None or not notice.dirty or notice.due_s != due_s:
                continue
            taken.append(self._publish(topic, notice, now_s))
        return taken

    def next_s(self) -> float:
        """When the next message falls due; ``inf`` for never."""
        return self._due[0][0] if self._due else math.inf

    def is_taken_down(self, topic: str) -> bool:
        """Whether the topic is being removed."""
        notice = self._notices.get(topic)
        return notice is not None and notice.gone

    def drop(self, topic: str) -> None:
        """The broker has removed the topic: forget it, unless it was put up again meanwhile."""
        if self.is_taken_down(topic):
            del self._notices[topic]

    def _publish(self, topic: str, notice: _Notice, now_s: float) -> Message:
        payload = notice.content if isinstance(notice.content, bytes) else notice.content()
        message = Message(topic, payload, notice.confirmed)
        notice.published_s = -math.inf if notice.renewed else now_s
        notice.dirty = notice.renewed = False
        return message

    def _call_for(self, topic: str, notice: _Notice, due_s: float) -> None:
        if notice.dirty and notice.due_s == due_s:
            return
        notice.dirty, notice.due_s = True, due_s
        heapq.heappush(self._due, (due_s, topic))
