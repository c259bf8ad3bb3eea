"""Trouble: one thing that does not work just now: the sentence about it, and when it is tried again."""

import logging

_log = logging.getLogger(__name__)

#: The first pause before the next attempt, and the longest; it doubles in between.
FIRST_PAUSE_S = 0.25
LONGEST_PAUSE_S = 8.0


class Trouble:
    """Begins with the first failure and ends with the first success.

    Attributes:
        active: whether the last attempt failed.
        sentence: about the latest trouble, kept after it is over.
    """

    def __init__(self) -> None:
        self.active = False
        self.sentence = ""
        self._pause_s = FIRST_PAUSE_S
        self._next_s = 0.0

    def note(self, sentence: str) -> None:
        """Something went wrong that is already put right. Logged once, however often it is said."""
        if sentence != self.sentence or not self.active:
            _log.error("%s", sentence)
        self.sentence = sentence

    def met(self, sentence: str, now_s: float) -> None:
        """An attempt failed at this second of the steady clock."""
        self.note(sentence)
        self._pause_s = min(2 * self._pause_s, LONGEST_PAUSE_S) if self.active else FIRST_PAUSE_S
        self._next_s = now_s + self._pause_s
        self.active = True

    def over(self) -> None:
        """An attempt succeeded."""
        if self.active:
            _log.warning("The store can be written again.")
        self.active = False

    def rest_s(self, now_s: float) -> float:
        """Seconds until the next attempt; 0 when it may be made now."""
        return max(0.0, self._next_s - now_s) if self.active else 0.0
