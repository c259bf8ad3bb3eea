"""Ledger: events in, events out. What the journal holds against what the subscriber heard.

Every law here must hold whatever was killed, frozen or full on the way.
"""

import contextlib
import json
import sqlite3
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.rig.listener import Listener

Event = dict[str, Any]

#: States in which the process is back to normal; only from these may a timer clear (ISA-18.2).
WAITING = {"returned_unacknowledged", "latched_unacknowledged", "latched_acknowledged"}
HELD = {"shelved", "suppressed_by_design", "out_of_service"}
_COMPARED = (
    "kind",
    "happened",
    "collector",
    "tag",
    "link",
    "state_before",
    "state",
    "cause",
    "occurrence",
    "text",
)


@dataclass(frozen=True)
class Ledger:
    """Both sides at one moment; ``heard`` in the order of arrival, repetitions included."""

    journal: list[Event]
    heard: list[Event]

    @classmethod
    def read(cls, path: Path, listener: Listener) -> "Ledger":
        """Read the journal as any other program would, beside the daemon."""
        return cls(list(_rows(path)), listener.events())

    @property
    def counts(self) -> str:
        """For the summary."""
        out = len({one["event_id"] for one in self.heard})
        kinds = Counter(one["happened"] for one in self.journal)
        told = ", ".join(f"{number} {name}" for name, number in kinds.most_common())
        again = len(self.heard) - out
        return f"events in (journal) {len(self.journal)}, out (heard) {out}, repeated {again}: {told}"

    @property
    def all_told(self) -> bool:
        """Whether the subscriber has every event that is written."""
        return {one["event_id"] for one in self.journal} <= {one["event_id"] for one in self.heard}

    def check(self) -> None:
        """Nothing lost, nothing invented, in order, every chain whole."""
        self.check_nothing_lost_or_invented()
        self.check_order()
        self.check_chains()

    def check_nothing_lost_or_invented(self) -> None:
        written = {one["event_id"]: one for one in self.journal}
        assert len(written) == len(self.journal), "an event id is given twice"
        heard: dict[str, Event] = {}
        for one in self.heard:
            before = heard.setdefault(one["event_id"], one)
            assert before == one, f"told again with another content: {before} then {one}"
        lost = [one for key, one in written.items() if key not in heard]
        invented = [one for key, one in heard.items() if key not in written]
        assert not lost, f"{len(lost)} lost, the first {lost[0]}"
        assert not invented, f"{len(invented)} invented, the first {invented[0]}"
        for key, one in heard.items():
            told, kept = (_compared(side) for side in (one, written[key]))
            assert told == kept, f"told {told}, written {kept}"

    def check_order(self) -> None:
        first: dict[str, int] = {}
        for one in self.heard:
            first.setdefault(one["event_id"], one["seq"])
        arrived = list(first.values())
        assert arrived == sorted(arrived), "first arrivals are out of order"
        assert len(set(arrived)) == len(arrived)

    def check_chains(self) -> None:
        """The states of each alarm follow one another without a gap, and no timer ends an active one."""
        state: dict[str, str] = {}
        occurrence: dict[str, str | None] = {}
        for one in sorted(self.journal, key=lambda event: event["seq"]):
            if one["kind"] != "alarm":
                continue
            tag = one["tag"]
            assert one["state_before"] == state.get(tag, "normal"), f"{one} after {state.get(tag)}"
            if one["cause"] == "timer":
                assert one["state_before"] in {*WAITING, "shelved"}, f"a timer ended an active alarm: {one}"
            before, now = occurrence.get(tag), one.get("occurrence")
            if before is not None and now is None:
                assert one["state_before"] in HELD, f"an occurrence ended in sight without a word: {one}"
            assert before in (None, now) or now is None, f"another occurrence: {one}"
            occurrence[tag] = None if one["state"] == "normal" else now
            state[tag] = one["state"]

    def states(self) -> dict[str, str]:
        """The state of every alarm after its last event."""
        return {one["tag"]: one["state"] for one in self.journal if one["kind"] == "alarm"}


def _compared(event: Event) -> Event:
    return {name: event.get(name) for name in ("seq", *_COMPARED)}


def _rows(path: Path) -> Iterator[Event]:
    with contextlib.closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=10)) as connection:
        for seq, event_id, at_utc_s, body in connection.execute(
            "SELECT seq, event_id, at_utc_s, body FROM journal ORDER BY seq"
        ):
            yield {"seq": seq, "event_id": event_id, "at_utc_s": at_utc_s, **json.loads(body)}
