"""Queries: what a page asks for in the query of an address, or a sentence about what cannot be read."""

import re
from collections.abc import Iterable
from typing import NamedTuple

#: Unix seconds up to the end of RFC 3339's four-digit year.
LAST_UTC_S = 253402300799.0
FEWEST_POINTS, MOST_POINTS, USUAL_POINTS = 50, 2000, 600
SHORTEST_S, LONGEST_S, USUAL_S = 60.0, 3 * 366 * 86400.0, 8 * 3600.0
MOST_EVENTS, USUAL_EVENTS = 500, 50
#: The largest number of an event (SQLite's own).
LAST_SEQ = 2**63 - 1

_NUMBER = re.compile(r"-?\d{1,20}(\.\d{1,20})?([eE][+-]?\d{1,3})?", re.ASCII)
_WHOLE = re.compile(r"\d{1,19}", re.ASCII)

Items = Iterable[tuple[str, str]]


class ChartAsked(NamedTuple):
    """A piece of the history.

    Attributes:
        points: at most so many pieces are wanted.
    """

    from_utc_s: float
    until_utc_s: float
    points: int


class EventsAsked(NamedTuple):
    """Some events; of one collector or (empty) of all."""

    collector: str = ""
    before_seq: int | None = None
    limit: int = USUAL_EVENTS


def chart_asked(items: Items, now_utc_s: float) -> ChartAsked:
    """Which piece of the history; without a word the last eight hours.

    Raises:
        ValueError: a sentence.
    """
    given = _once(items, ("from_utc_s", "until_utc_s", "points"), "a chart")
    until = _moment("until_utc_s", given["until_utc_s"]) if "until_utc_s" in given else now_utc_s
    begin = _moment("from_utc_s", given["from_utc_s"]) if "from_utc_s" in given else max(0.0, until - USUAL_S)
    if not SHORTEST_S <= until - begin <= LONGEST_S:
        raise ValueError("until_utc_s must lie 60 s to 3 years after from_utc_s")
    points = _whole("points", given["points"], FEWEST_POINTS, MOST_POINTS) if "points" in given else USUAL_POINTS
    return ChartAsked(begin, until, points)


def events_asked(items: Items) -> EventsAsked:
    """Which events; without a word the newest of all.

    Raises:
        ValueError: a sentence.
    """
    given = _once(items, ("collector", "before_seq", "limit"), "events")
    before = _whole("before_seq", given["before_seq"], 1, LAST_SEQ) if "before_seq" in given else None
    limit = _whole("limit", given["limit"], 1, MOST_EVENTS) if "limit" in given else USUAL_EVENTS
    return EventsAsked(given.get("collector", ""), before, limit)


def collectors_asked(items: Items) -> list[str]:
    """Which collectors, each once, in the order asked; none for all.

    Raises:
        ValueError: a sentence.
    """
    names: dict[str, None] = {}
    for key, value in items:
        if key != "collector":
            raise ValueError("trends are asked by collector=…, more than once for several, and by nothing else")
        names[value] = None
    return list(names)


def nothing_asked(items: Items) -> None:
    """See that there is no query where none is understood.

    Raises:
        ValueError: a sentence.
    """
    if list(items):
        raise ValueError("this address takes no query")


def _once(items: Items, known: tuple[str, ...], what: str) -> dict[str, str]:
    given: dict[str, str] = {}
    for key, value in items:
        if key not in known or key in given:
            raise ValueError(f"{what} can be asked for by {', '.join(known)}, each once, and by nothing else")
        given[key] = value
    return given


def _moment(name: str, text: str) -> float:
    value = float(text) if _NUMBER.fullmatch(text) else -1.0
    if not 0.0 <= value <= LAST_UTC_S:
        raise ValueError(f"{name} must be a moment in Unix seconds, 0 to {LAST_UTC_S:.0f}")
    return value


def _whole(name: str, text: str, least: int, most: int) -> int:
    value = int(text) if _WHOLE.fullmatch(text) else least - 1
    if not least <= value <= most:
        raise ValueError(f"{name} must be a whole number, {least} to {most}")
    return value
