"""Quiet: until when a person is not to be called but for the top priority."""

import math
from zoneinfo import ZoneInfo

from monitor.tell.phone.settings import Person
from monitor.tell.phone.spans import end_utc_s

#: Spans come back every week: who is quiet longer than that is quiet always.
_ALWAYS_S = 8 * 86400.0


def quiet_until_utc_s(person: Person, zone: ZoneInfo, utc_s: float) -> float | None:
    """When the quiet hours of this moment end, Unix seconds; None outside of them, infinity for never."""
    until_s = utc_s
    while until_s - utc_s < _ALWAYS_S:
        ends = [end for span in person.quiet if (end := end_utc_s(zone, span, until_s)) is not None]
        if not ends:
            return None if until_s == utc_s else until_s
        until_s = max(ends)
    return math.inf
