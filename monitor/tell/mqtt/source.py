"""Source: what the outlet asks of the journal."""

from typing import Protocol

from monitor.words import Event


class EventSource(Protocol):
    """Events in the order of their ``seq``, and how far an outlet has got with them.

    Every method may raise StoreError; the outlet then goes on with what it has and asks again later.
    """

    async def events_after(self, seq: int, limit: int) -> list[Event]:
        """The next events after ``seq``, oldest first, at most ``limit``."""

    def cursor(self, outlet: str) -> int:
        """The last ``seq`` this outlet has confirmed; 0 before the first."""

    def confirm(self, outlet: str, seq: int) -> None:
        """The other side has everything up to ``seq``."""

    def set_aside_event(self, outlet: str, seq: int, why: str) -> None:
        """This event will not be told through this outlet; ``why`` is a sentence for people."""
