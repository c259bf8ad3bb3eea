"""Series of the phone: whether people can be reached, how each channel is doing, what waits.

The names of people are labels, and so they are kept wherever these series are; nothing else of a person is shown.
"""

from collections.abc import Callable

from monitor.figures import PhoneFigures
from monitor.tell.exposition import Family, Kind, Sample


def attempts(phone: PhoneFigures) -> Family:
    """Attempts to tell somebody something, by channel and outcome; both outcomes from the start, with 0."""
    samples = [
        Sample({"person": one.person, "channel": one.channel, "outcome": outcome}, count)
        for one in phone.channels
        for outcome, count in (("delivered", one.delivered), ("failed", one.failed))
    ]
    return Family("cakewatch_phone_attempts", Kind.COUNTER, "Messages offered to a gateway, by outcome.", samples)


def last_delivered(phone: PhoneFigures) -> Family:
    """When a channel last worked."""
    samples = [
        Sample({"person": one.person, "channel": one.channel}, one.last_delivered_utc_s)
        for one in phone.channels
        if one.last_delivered_utc_s is not None
    ]
    name = "cakewatch_phone_last_delivered_timestamp_seconds"
    return Family(name, Kind.GAUGE, "When a gateway last took a message, Unix time.", samples, "seconds")


_Draw = Callable[[PhoneFigures], Family]


def _one(name: str, kind: Kind, text: str, pick: Callable[[PhoneFigures], float], unit: str = "") -> _Draw:
    def draw(phone: PhoneFigures) -> Family:
        return Family(name, kind, text, [Sample({}, pick(phone))], unit)

    return draw


_GAUGE, _COUNTER = Kind.GAUGE, Kind.COUNTER

FAMILIES: tuple[_Draw, ...] = (
    _one(
        "cakewatch_phone_unreached",
        _GAUGE,
        "Whether nobody could be reached for some alarm (1).",
        lambda phone: int(bool(phone.unreached)),
    ),
    attempts,
    last_delivered,
    _one("cakewatch_phone_callouts", _GAUGE, "Callouts that are open.", lambda phone: phone.callouts),
    _one("cakewatch_phone_waiting_messages", _GAUGE, "Messages not delivered.", lambda phone: phone.waiting),
    _one(
        "cakewatch_phone_oldest_message_age_seconds",
        _GAUGE,
        "How long the oldest message has been waiting; 0 when none is.",
        lambda phone: phone.oldest_waiting_s,
        "seconds",
    ),
    _one(
        "cakewatch_phone_held_back_alarms",
        _COUNTER,
        "Alarms that flood control put together.",
        lambda phone: phone.held_back,
    ),
    _one("cakewatch_phone_pings", _COUNTER, "Pings of the outside address.", lambda phone: phone.pings),
    _one("cakewatch_phone_ping_failures", _COUNTER, "Those that failed.", lambda phone: phone.ping_failures),
)
