"""Incoming: a message from the command topic, as the rest of the house sees it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Incoming:
    """One message.

    Attributes:
        retained: the broker kept it (MQTT 5.0 §3.3.1.3), so it comes again at every subscription.
        response_topic, correlation: where and under what mark the sender wants the answer (MQTT 5.0 §4.10); None
            where it does not say.
    """

    payload: bytes
    retained: bool = False
    response_topic: str | None = None
    correlation: bytes | None = None
