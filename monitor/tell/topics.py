"""Topics: where on the broker everything is published.

    <base>/availability                          retained   whether the daemon is there (also its last will)
    <base>/collectors/<collector>/state          retained   every point of the collector, and its alarms in sum
    <base>/collectors/<collector>/curve          retained   what is read from its curve: cycles, filters, air
    <base>/collectors/<collector>/alarms/<tag>   retained   one alarm
    <base>/links/<link>/alarms/<tag>             retained   the alarm of one link
    <base>/events                                           what happened, in order, each with its event id
    <base>/commands                                         listened to, only where the site file switches it on
    <base>/answers                                          answers to commands that name no response topic

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

    @property
    def commands(self) -> str:
        """Where commands come in; nothing is ever published there."""
        return f"{self.base}/commands"

    @property
    def answers(self) -> str:
        """Answers to commands that do not say where they want theirs."""
        return f"{self.base}/answers"

    def keeps_for_itself(self, topic: str) -> bool:
        """Whether the topic is one below the base where no answer may go: all but the answers' own."""
        if topic == self.answers or topic.startswith(f"{self.answers}/"):
            return False
        return topic == self.base or topic.startswith(f"{self.base}/")

    def state(self, collector: str) -> str:
        """The state of one collector."""
        return f"{self.base}/collectors/{level(collector)}/state"

    def curve(self, collector: str) -> str:
        """What is read from the curve of one collector."""
        return f"{self.base}/collectors/{level(collector)}/curve"

    def alarm(self, collector: str, tag: str) -> str:
        """The state of one alarm."""
        return f"{self.base}/collectors/{level(collector)}/alarms/{level(tag)}"

    def link_alarm(self, link: str, tag: str) -> str:
        """The state of the alarm of a link."""
        return f"{self.base}/links/{level(link)}/alarms/{level(tag)}"


def level(name: str) -> str:
    """The name as one level of a topic."""
    return _MEANS_SOMETHING.sub(lambda found: f"%{ord(found[0]):02X}", name)
