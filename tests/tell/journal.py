"""A journal in memory with the store's manners, which can be told to fail."""

from monitor.errors import StoreError
from monitor.words import AlarmState, Cause, Event, EventKind, Priority


class FakeJournal:
    def __init__(self) -> None:
        self.events: list[Event] = []
        self.cursors: dict[str, int] = {}
        self.aside: dict[int, str] = {}
        self.confirmed: list[int] = []
        self.broken = False

    def add(self, count: int = 1, **changes) -> int:
        for _ in range(count):
            seq = len(self.events) + 1
            self.events.append(event(seq, **changes))
        return len(self.events)

    async def events_after(self, seq: int, limit: int) -> list[Event]:
        if self.broken:
            raise StoreError("the disk is gone")
        return [one for one in self.events if one.seq > seq][:limit]

    def cursor(self, outlet: str) -> int:
        return self.cursors.get(outlet, 0)

    def confirm(self, outlet: str, seq: int) -> None:
        assert seq > self.cursors.get(outlet, 0)
        self.cursors[outlet] = seq
        self.confirmed.append(seq)

    def set_aside_event(self, outlet: str, seq: int, why: str) -> None:
        self.aside[seq] = why


def event(seq: int = 1, **changes) -> Event:
    fields = {
        "kind": EventKind.ALARM,
        "happened": "raised",
        "at_utc_s": 1_800_000_000.0 + seq,
        "text": "",
        "collector": "DC-101",
        "tag": "PDAH-101",
        "priority": Priority.HIGH,
        "state_before": AlarmState.NORMAL,
        "state": AlarmState.UNACKNOWLEDGED,
        "cause": Cause.PROCESS,
        "occurrence": f"PDAH-101@{seq}",
        "value": 7.23,
        "setpoint": 7.0,
        "unit": "inH2O",
        "seen": False,
        "facts": {"condition": "band", "side": "above", "judged": "damped"},
        "event_id": f"id-{seq}",
        "seq": seq,
    }
    return Event(**(fields | changes))
