"""Remembered: which of the relay's state is on disk, and what of it has to be written."""

import logging
from collections.abc import Mapping

from monitor.tell.phone import relay
from monitor.tell.phone.relay import RelayState

log = logging.getLogger(__name__)

#: The key of one of our texts among those of the store; the others are below it.
_ROOM = "phone"


class Remembered:
    """The state as it stands on disk.

    Args:
        texts: what the store remembered when it was opened; others' keys are passed over.

    Attributes:
        state: the relay's state that was handed over last; a new one where the texts cannot be understood.
    """

    def __init__(self, texts: Mapping[str, str]) -> None:
        ours = {key: text for key, text in texts.items() if text and key.partition("/")[0] == _ROOM}
        self._unread: dict[str, str] = {}
        try:
            self.state = relay.whole(ours)
        except ValueError as error:
            log.error("what was remembered of the phone is dropped why=%r", str(error))
            self._unread = dict.fromkeys(ours, "")
            self.state = RelayState()

    def take(self, state: RelayState) -> dict[str, str]:
        """This is the state now: what must be written of it, by key; empty texts for what is over."""
        changes = {key: text or "" for key, text in relay.changes(self.state, state).items()}
        self.state = state
        found, self._unread = self._unread | changes, {}
        return found
