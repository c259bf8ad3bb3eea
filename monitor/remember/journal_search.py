"""Journal search: some events of a store's journal, the newest first, while its daemon writes.

Each question opens the file anew and closes it: a journal that was set aside meanwhile is not read any more.
"""

import sqlite3
from collections.abc import Callable, Iterable, Sequence
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from monitor.errors import StoreError
from monitor.remember import journal, reading
from monitor.words import Event

_SELECT = "SELECT seq, event_id, at_utc_s, body FROM journal"


class Wanted(NamedTuple):
    """Which events are looked for.

    Attributes:
        collector: about this one; empty for any.
        tags: the tags of its alarms: the file finds those by an index, and the rest among events without a tag.
        before_seq: older than this event; None for any.
        since_utc_s, until_utc_s: that happened in [since, until), Unix seconds.
        without: events of these kinds of happening are passed over.
        most: the newest so many.
    """

    collector: str = ""
    tags: Sequence[str] = ()
    before_seq: int | None = None
    since_utc_s: float = 0.0
    until_utc_s: float = 1e18
    most: int = 50
    without: Sequence[str] = ()


def newest(folder: Path, wanted: Wanted) -> list[Event]:
    """The events that are looked for, newest first.

    Raises:
        StoreError: the journal cannot be read: a sentence with the way out.
    """
    return _ask(folder, lambda file: _read(file.execute(*_question(wanted))))


def last_before(folder: Path, tags: Iterable[str], utc_s: float) -> list[Event]:
    """Of each tag the last event that happened before that moment, where there is one.

    Raises:
        StoreError: as ``newest``.
    """
    question = f"{_SELECT} WHERE tag = ? AND at_utc_s < ? ORDER BY seq DESC LIMIT 1"
    return _ask(folder, lambda file: [one for tag in tags for one in _read(file.execute(question, (tag, utc_s)))])


def _question(wanted: Wanted) -> tuple[str, list[object]]:
    where, values = ["at_utc_s >= ?", "at_utc_s < ?"], [wanted.since_utc_s, min(wanted.until_utc_s, 1e18)]
    asked: list[object] = list(values)
    if wanted.before_seq is not None:
        where.append("seq < ?")
        asked.append(min(wanted.before_seq, 2**62))
    if wanted.without:
        where.append(f"json_extract(body, '$.happened') NOT IN ({','.join('?' * len(wanted.without))})")
        asked += wanted.without
    if wanted.collector:
        marks = ",".join("?" * len(wanted.tags))
        where.append(f"(tag IN ({marks}) OR tag IS NULL) AND json_extract(body, '$.collector') = ?")
        asked += [*wanted.tags, wanted.collector]
    return f"{_SELECT} WHERE {' AND '.join(where)} ORDER BY seq DESC LIMIT ?", [*asked, wanted.most]


def _read(rows: Iterable[tuple[int, str, float, str]]) -> list[Event]:
    return [journal.decode(*row) for row in rows]


def _ask(folder: Path, look: Callable[[sqlite3.Connection], list[Event]]) -> list[Event]:
    path = folder / "journal.db"
    with closing(reading.open_to_look(path)) as file:
        try:
            return look(file)
        except sqlite3.Error as error:
            raise StoreError(reading.in_words(error, path)) from error
