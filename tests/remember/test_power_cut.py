"""Power cut: a daemon killed at any instant has on disk all it ever said was safe to tell, and nothing torn."""

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.remember.making import read

ROOT = Path(__file__).parents[2]

#: Appends bursts without pause; each event's number is written into the snapshot of the same transaction.
CHILD = """
import asyncio, json, os, sys
from pathlib import Path
from tests.remember.making import an_event, open_store

async def main() -> None:
    store = open_store(Path(sys.argv[1]), keep_events=10**9)
    ids = {}
    def tell(seq):
        # Straight to the pipe: what is in it survives the kill.
        os.write(1, f"{seq} {ids[seq]}\\n".encode())
    store.on_committed(tell)
    last = store._last_seq
    for turn in range(10**9):
        events = [an_event(f"{last + n + 1}") for n in range(turn % 3)]
        last += len(events)
        for seq in range(last - len(events) + 1, last + 1):
            ids[seq] = f"{store._run_id}-{seq - store._first}"
        state = json.dumps({"seq": last, "turn": turn})
        if events:
            stamped = store.append(events, {"DC-101": state}, store.scan_s + turn)
            assert [each.seq for each in stamped] == list(ids)[-len(events):]
            assert all(ids[each.seq] == each.event_id for each in stamped)
        else:
            store.remember({"DC-101": state}, store.scan_s + turn)
        store.confirm("mqtt", last - 5) if last > 5 else None
        # No faster than the disk for long: what overflows the memory is dropped by rule, and not the matter here.
        await asyncio.sleep(0.001 if store.figures().waiting_events > 1000 else 0)

import monitor.remember.store as module
original = module.Store.__init__
def remembered(self, *args):
    original(self, *args)
    self._first = self._last_seq
module.Store.__init__ = remembered
asyncio.run(main())
"""


def _live_and_be_killed(folder: Path, alive_s: float) -> list[tuple[int, str]]:
    """What the child said may be told, before it was killed."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, "-c", CHILD, str(folder)], cwd=ROOT, env=environment, stdout=subprocess.PIPE
    ) as child:
        first = child.stdout.readline()
        time.sleep(alive_s)
        child.send_signal(signal.SIGKILL)
        lines = [first, *child.stdout.read().splitlines()]
    words = [line.decode().split() for line in lines]
    return [(int(seq), event_id) for seq, event_id in words]


def _check(folder: Path, told: dict[int, str]) -> None:
    journal = folder / "journal.db"
    rows = read(journal, "SELECT seq, event_id, json_extract(body, '$.text') FROM journal ORDER BY seq")
    there = {seq: event_id for seq, event_id, _ in rows}
    assert [seq for seq, _, _ in rows] == list(range(1, len(rows) + 1)), "an event is missing or out of order"
    assert all(text == str(seq) for seq, _, text in rows), "an event was invented or torn"
    assert told.items() <= there.items(), "an event that was told is gone, or has another id"
    ((state,),) = read(journal, "SELECT state FROM snapshots")
    assert json.loads(state)["seq"] == len(rows), "the snapshot is of another moment than the last event"
    ((cursor,),) = read(journal, "SELECT seq FROM cursors")
    assert cursor <= len(rows)
    assert read(journal, "PRAGMA integrity_check") == [("ok",)]


def _rounds(folder: Path, count: int) -> None:
    chance = random.Random(20_250_101)
    told: dict[int, str] = {}
    for _ in range(count):
        told |= dict(_live_and_be_killed(folder, chance.uniform(0.0, 0.15)))
        _check(folder, told)
    assert len(told) > count


def test_what_was_told_is_on_disk_after_30_kills(tmp_path):
    _rounds(tmp_path, 30)


@pytest.mark.long
@pytest.mark.timeout(600)
def test_what_was_told_is_on_disk_after_300_kills(tmp_path):
    _rounds(tmp_path, 300)
