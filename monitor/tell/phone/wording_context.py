"""Wording context: what a message needs to know besides the alarm itself."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, tzinfo
from typing import NamedTuple


class Text(NamedTuple):
    """A message for a channel that has room: a title of one line, and the lines under it."""

    title: str
    body: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StandNow:
    """How the watch and the plant stand, for the message that says whether all is well.

    Attributes:
        collectors: that are watched.
        alarms: active now.
        unacknowledged: alarms that wait for a person, active or not.
        links_lost: by name.
        cannot_be_trusted: collectors whose DP is bad.
        shelved, out_of_service: alarms that warn nobody because a person said so.
        journal_ok: events reach the disk.
        outlets_failing: what is out of reach, by name (``mqtt``), also the outside address.
        filters_due: sets near their end, in words: ``DC-103 in about 12 days``.
    """

    collectors: int = 0
    alarms: int = 0
    unacknowledged: int = 0
    links_lost: tuple[str, ...] = ()
    cannot_be_trusted: tuple[str, ...] = ()
    shelved: int = 0
    out_of_service: int = 0
    journal_ok: bool = True
    outlets_failing: tuple[str, ...] = ()
    filters_due: tuple[str, ...] = ()


def _nothing_known(_: str) -> str:
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MessageContext:
    """What is known when a message is worded.

    Attributes:
        site: its name.
        zone: of the site; every time is told by its wall clock.
        link: with which this message is acknowledged by one tap; empty for none.
        outlook: of a collector, by name: its DP now and its trend, as ``trend_words`` writes them; empty where
            nothing is known. It must not raise.
        stand: for ``MessageKind.ALL_WELL`` alone.
    """

    site: str
    zone: tzinfo = UTC
    link: str = ""
    outlook: Callable[[str], str] = _nothing_known
    stand: StandNow = StandNow()
