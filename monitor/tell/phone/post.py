"""Post: hands messages to the gateways, each channel of each person behind a bulkhead of its own, and counts."""

import logging
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial

from monitor.clock import real_s
from monitor.figures import ChannelFigures
from monitor.tell.phone.bulkhead import Bulkhead, Full, Overrun
from monitor.tell.phone.message import Sent
from monitor.tell.phone.reasons import timed_out
from monitor.tell.phone.settings import Channel, Person
from monitor.tell.phone.wording_context import Text

log = logging.getLogger(__name__)

#: Messages that one channel may have in its gateway at once, those that hang among them.
PLACES = 4

BUSY = f"{PLACES} earlier messages still hang"

Send = Callable[[Channel, Text], Sent]


class Post:
    """The gateways of all people.

    Args:
        send: blocks until the message is delivered or has failed; runs in threads.
    """

    def __init__(self, send: Send) -> None:
        self._send = send
        self._bulkheads: dict[tuple[str, str], Bulkhead[Sent]] = {}
        self._figures: dict[tuple[str, str], ChannelFigures] = {}

    async def deliver(self, person: str, channel: Channel, text: Text) -> Sent:
        """Hand over a message; back within twice the channel's limit, whatever the gateway does."""
        began_s = real_s()
        bulkhead = self._bulkheads.setdefault(
            (person, channel.name), Bulkhead(f"phone {person} {channel.name}", PLACES)
        )
        try:
            return await bulkhead.run(partial(self._send, channel, text), channel.limit_s)
        except Overrun:
            return Sent(delivered=False, took_s=real_s() - began_s, why=timed_out(channel.limit_s))
        except Full:
            return Sent(delivered=False, took_s=real_s() - began_s, why=BUSY)
        except Exception as error:  # its text may bear the address
            return Sent(delivered=False, took_s=real_s() - began_s, why=f"not accepted: {type(error).__name__}")

    def count(self, person: str, channel: str, sent: Sent, at_utc_s: float) -> None:
        """Count an attempt, and log it where it is news."""
        key = (person, channel)
        before = self._figures.get(key, ChannelFigures(person=person, channel=channel))
        if sent.why and sent.why != before.last_error:
            log.warning("phone failed person=%s channel=%s why=%r", person, channel, sent.why)
        elif before.last_error and not sent.why:
            log.info("phone delivers again person=%s channel=%s", person, channel)
        self._figures[key] = _counted(before, sent, at_utc_s)

    def figures(self, people: Iterable[Person]) -> tuple[ChannelFigures, ...]:
        """Of every channel, also of those that were never tried."""
        return tuple(
            self._figures.get((person.name, one.name), ChannelFigures(person=person.name, channel=one.name))
            for person in people
            for one in person.channels
        )


def _counted(before: ChannelFigures, sent: Sent, at_utc_s: float) -> ChannelFigures:
    if sent.delivered:
        return replace(before, delivered=before.delivered + 1, last_delivered_utc_s=at_utc_s, last_error="")
    return replace(before, failed=before.failed + 1, last_failed_utc_s=at_utc_s, last_error=sent.why)
