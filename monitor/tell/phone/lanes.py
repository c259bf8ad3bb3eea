"""Lanes: through which of a person's channels a message goes next, and for how long a failing one is left alone.

One message is on its way through a channel of a person at a time, so that a gateway that hangs holds one message
and not all, and what comes after another arrives after it. A channel that failed as often in a row as one message
may fail on it is failing: it is left alone for a pause that doubles, then one message tries it. So a dead channel
costs the full tries once, and not every message anew.
"""

import math
from typing import NamedTuple

from monitor.tell.phone.draft import Draft
from monitor.tell.phone.errand import Errand, Lane
from monitor.tell.phone.settings import Channel, PhoneSettings
from monitor.words import Instant


class Way(NamedTuple):
    """Where a message may go now.

    Attributes:
        number: of the person's channel; None where there is none now.
        is_busy: there would be one, but another message is on its way through it.
    """

    number: int | None = None
    is_busy: bool = False


def channels_of(settings: PhoneSettings, errand: Errand) -> tuple[Channel, ...]:
    """The channels by which it may go."""
    person = settings.people.get(errand.person)
    channels = () if person is None else person.channels
    return tuple([one for one in channels if errand.only in ("", one.name)])


def way_of(draft: Draft, errand: Errand) -> Way:
    """The first channel, from the errand's on, that is not failing, or that may be tried again."""
    channels = channels_of(draft.settings, errand)
    for number, channel in enumerate(channels[errand.channel :], errand.channel):
        lane = draft.lane(errand.person, channel.name)
        if not is_failing(draft.settings, lane) or errand.only:
            return Way(is_busy=True) if lane.busy else Way(number)
        if not lane.busy and draft.now.mono_s >= lane.retry_s:
            return Way(number)
    return Way()


def is_failing(settings: PhoneSettings, lane: Lane) -> bool:
    """Whether it failed so often in a row that it is left alone."""
    return lane.failures >= settings.tries


def after(settings: PhoneSettings, lane: Lane, *, delivered: bool, why: str, now: Instant) -> Lane:
    """The lane after an attempt."""
    if delivered:
        return Lane()
    failures = lane.failures + 1
    over = failures - settings.tries + 1
    retry_s = now.mono_s + pause_s(settings, over) if over > 0 else -math.inf
    return Lane(failures, retry_s, why=why)


def pause_s(settings: PhoneSettings, failures: int) -> float:
    """How long to wait after so many failures, 1 or more; doubling."""
    doubled = settings.first_retry_s * 2.0 ** min(failures - 1, 40)
    return min(doubled, max(settings.first_retry_s, settings.longest_retry_s))


def open_s(draft: Draft, errand: Errand) -> float:
    """When the first of its failing channels may be tried again, scan seconds."""
    times = []
    for channel in channels_of(draft.settings, errand):
        lane = draft.lane(errand.person, channel.name)
        times.append(draft.now.mono_s + channel.limit_s if lane.busy else lane.retry_s)
    return max(min(times, default=math.inf), draft.now.mono_s)


def are_shut(draft: Draft, person: str) -> bool:
    """Whether all channels of the person are failing, and none may be tried again now."""
    own = _lanes(draft, person)
    return all(is_failing(draft.settings, one) and (one.busy or one.retry_s > draft.now.mono_s) for one in own)


def opens_s(draft: Draft, person: str) -> float:
    """When the first of the person's channels that are left alone may be tried again; infinity for none."""
    now_s = draft.now.mono_s
    return min(
        [one.retry_s for one in _lanes(draft, person) if not one.busy and one.retry_s > now_s], default=math.inf
    )


def _lanes(draft: Draft, person: str) -> list[Lane]:
    known = draft.settings.people.get(person)
    return [] if known is None else [draft.lane(person, one.name) for one in known.channels]
