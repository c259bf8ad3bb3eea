"""Topics: where on the broker everything is published.

    <base>/availability                          retained   whether the daemon is there (also its last will)
    <base>/collectors/<collector>/state          retained   every point of the collector, and its alarms in sum
    <base>/collectors/<collector>/alarms/<tag>   retained   one alarm
    <base>/events                                           what happened, in order, each with its event id

A name from the site file becomes one level: the characters that MQTT gives a meaning are percent-encoded, so two
names can never meet in one topic.
"""

import re
from dataclasses import dataclass

#: MQTT 5.0 §4.7: no ``/ + #``, no NUL; control characters likewise, and the mark of the encoding itself.
_MEANS_SOMETHING = re.compile(r"[%/+#\x00-\x1f]")


@dataclass(frozen=True, slots=True)
class Topics:
    """The topics below one base."""

    base: str

    @property
    def availability(self) -> str:
        """Birth and last will."""
        return f"{self.base}/availability"

    @property
    def events(self) -> str:
        """The journal's events."""
        return f"{self.base}/events"

    def state(self, collector: str) -> str:
        """The state of one collector."""
        return f"{self.base}/collectors/{level(collector)}/state"

    def alarm(self, collector: str, tag: str) -> str:
        """The state of one alarm."""
        return f"{self.base}/collectors/{level(collector)}/alarms/{level(tag)}"


def level(name: str) -> str:
    """The name as one level of a topic."""
    return _MEANS_SOMETHING.sub(lambda found: f"%{ord(found[0]):02X}", name)
