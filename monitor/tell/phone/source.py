"""Source: what the outlet asks of the daemon."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple, Protocol

from monitor.tell.phone.message import Message
from monitor.tell.phone.wording_context import Text
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
        """This outlet needs the events up to ``seq`` no more."""

    async def written(self) -> None:
        """Return when everything that was handed over so far is on disk."""


class Journal(Protocol):
    """Journals events and remembers texts by key in one transaction; an empty text forgets its key."""

    def __call__(self, events: Sequence[Event], texts: Mapping[str, str]) -> object:
        """Hand over; it is on disk when ``EventSource.written`` returns."""


class Wording(Protocol):
    """Puts a message in words."""

    def __call__(self, message: Message, *, short: bool) -> Text:
        """The words; ``short``: 160 characters at most and no title."""


class Reachable(Protocol):
    """Is told whether anybody can be reached."""

    def __call__(self, reachable: bool, detail: str, /) -> object:
        """Called once after the start and whenever it has changed; ``detail`` is a sentence, or empty."""


def _always() -> bool:
    return True


class Ties(NamedTuple):
    """What the daemon does for the outlet; all of it at once, on the loop.

    Attributes:
        journal: what was attempted, with the state that it led to.
        word: puts a message in words.
        reachable: told whether anybody can be reached.
        healthy: whether everything in the daemon moves; else the outside address is not asked.
    """

    journal: Journal
    word: Wording
    reachable: Reachable
    healthy: Callable[[], bool] = _always
