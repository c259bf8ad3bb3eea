"""Troubles: what is wrong with the outlet at the moment, in sentences, each said once on the log."""

import logging
from enum import Enum

log = logging.getLogger(__name__)


class Subject(Enum):
    """What a trouble is about."""

    CONNECTION = "connection"
    EVENTS = "events"
    STATES = "states"
    SIZE = "size"
    JOURNAL = "journal"
    COMMANDS = "commands"
    ANSWERS = "answers"


class Troubles:
    """The present troubles by subject. A trouble that comes back unchanged is not logged again."""

    def __init__(self) -> None:
        self._present: dict[Subject, str] = {}
        self._logged: dict[Subject, str] = {}

    @property
    def text(self) -> str:
        """All present troubles in one line; empty while all is well."""
        return "; ".join(self._present[subject] for subject in Subject if subject in self._present)

    def say(self, subject: Subject, sentence: str) -> None:
        """This is wrong now."""
        self._present[subject] = sentence
        if self._logged.get(subject) != sentence:
            self._logged[subject] = sentence
            log.warning("mqtt trouble about=%s %s", subject.value, sentence)

    def has(self, subject: Subject) -> bool:
        """Whether something is wrong there."""
        return subject in self._present

    def over(self, subject: Subject) -> None:
        """Nothing is wrong there any more; the same trouble soon after would not be news."""
        self._present.pop(subject, None)

    def forgive(self, subject: Subject) -> None:
        """All has been well there for a while: the same trouble would be news again."""
        self.over(subject)
        self._logged.pop(subject, None)
