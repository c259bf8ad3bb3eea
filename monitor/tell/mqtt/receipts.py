"""Receipts: commands are acknowledged to the broker once they are answered, in the order in which they came.

The order is the protocol's rule (MQTT 5.0 §4.6); "once answered" is ours: what the broker was told we have is
never something that a lost connection or a stopped daemon could still lose.
"""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

Receipt = Callable[[], None]


@dataclass(slots=True)
class _Due:
    message_id: int
    qos: int
    done: bool = False


class Receipts:
    """The receipts of one connection.

    Args:
        acknowledge: sends one, given message id and QoS.
    """

    def __init__(self, acknowledge: Callable[[int, int], None]) -> None:
        self._acknowledge = acknowledge
        self._due: deque[_Due] = deque()

    def receipt(self, message_id: int, qos: int) -> Receipt:
        """What to call once the message is done with; calling it twice does nothing more."""
        if qos == 0:
            return _nothing
        due = _Due(message_id, qos)
        self._due.append(due)

        def give() -> None:
            due.done = True
            while self._due and self._due[0].done:
                first = self._due.popleft()
                self._acknowledge(first.message_id, first.qos)

        return give


def _nothing() -> None:
    """At QoS 0 nobody waits for a receipt."""
