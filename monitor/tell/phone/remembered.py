"""Remembered: which texts of the relay's state are on disk, and which have to be written."""

import logging
from collections.abc import Mapping

from monitor.tell.phone import relay
from monitor.tell.phone.relay import RelayState

log = logging.getLogger(__name__)

#: Before the name of every text of ours among those of the store.
PREFIX = "phone/"


class Remembered:
    """What of the state is written.

    Args:
        texts: what the store remembers, by key; others' keys are passed over.
    """

    def __init__(self, texts: Mapping[str, str]) -> None:
        self._written = {
            key.removeprefix(PREFIX): text for key, text in texts.items() if key.startswith(PREFIX) and text
        }

    def state(self) -> RelayState:
        """The state as it was written; a new one where that cannot be understood."""
        try:
            return relay.whole(dict(self._written)) if self._written else RelayState()
        except ValueError as error:
            log.error("what was remembered of the phone is dropped why=%r", str(error))
            return RelayState()

    def changed(self, state: RelayState) -> dict[str, str]:
        """What must be written for this state, by the store's key; empty texts for what is over."""
        texts = relay.parts(state)
        changed = {key: text for key, text in texts.items() if self._written.get(key) != text}
        gone = dict.fromkeys(self._written.keys() - texts.keys(), "")
        self._written = texts
        return {f"{PREFIX}{key}": text for key, text in (changed | gone).items()}
