"""Disk full: the daemon goes on, tells what it cannot write, and writes it once there is room, unchanged."""

import asyncio
import contextlib
import errno
import os
import resource
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.remember import disk
from monitor.remember.in_tray import InTray
from monitor.remember.store import Store
from tests.remember.making import DP_101, a_reading, an_event, on_thread, opened, read, texts, told, until

ROOT = Path(__file__).parents[2]
LONG = "x" * 500


async def _bound_pages(store: Store, pages: int) -> None:
    """Give SQLite no page beyond those the journal has (0: none), as if the disk had ended there."""
    connection = store._journal.file.connection
    used = (
        (await on_thread(store, lambda: connection.execute("PRAGMA page_count").fetchone()[0])) if not pages else 0
    )
    await on_thread(store, lambda: connection.execute(f"PRAGMA max_page_count = {pages or used}").fetchall())


async def _append_until_unhealthy(store: Store) -> None:
    async with asyncio.timeout(20):
        while store.figures().healthy:
            store.append([an_event(f"{store._last_seq + 1} {LONG}")], {"DC-101": f'"{store._last_seq}"'}, 1.0)
            await asyncio.sleep(0.001)


async def _story_of_a_full_disk(store: Store, make_room) -> None:
    """The whole story, whatever it is that makes the disk full."""
    before = store.append([an_event(f"1 {LONG}")], {}, 1.0)
    await told(store, 1)
    await _append_until_unhealthy(store)
    figures = store.figures()
    assert not figures.healthy
    assert figures.waiting_events > 0
    # What cannot be written may be told all the same, at once, in order, after what is written.
    store.append([an_event(f"{store._last_seq + 1} told at once")], {}, 2.0)
    last = store._last_seq
    await told(store, last, within_s=2.0)
    during = await store.events_after(0, limit=100_000)
    assert [event.seq for event in during] == list(range(1, last + 1))
    assert during[0] == before[0]
    store.confirm("mqtt", last)
    assert store.cursor("mqtt") == last
    make_room()
    await until(lambda: store.figures().healthy, 20)
    store.append([an_event(f"{last + 1} again")], {"DC-101": '"after"'}, 3.0)
    await store.flush()
    after = await store.events_after(0, limit=100_000)
    assert after[:-1] == during
    assert store.figures().waiting_events == store.figures().dropped_events == 0
    assert store.figures().last_error, "what was wrong stays readable"


def test_sqlite_full_is_survived_and_everything_is_written_in_the_end(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            connection = store._journal.file.connection

            def make_room() -> None:
                store._writer.ask(
                    lambda: connection.execute("PRAGMA max_page_count = 1000000").fetchall(), lambda error: False
                )

            await _bound_pages(store, 0)
            await _story_of_a_full_disk(store, make_room)
        async with opened(tmp_path) as store:
            assert (store.snapshots["DC-101"], store.scan_s) == ('"after"', 3.0)

    asyncio.run(story())


def test_the_sentence_of_a_full_disk_says_what_to_do(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            await _bound_pages(store, 0)
            await _append_until_unhealthy(store)
            expected = f"There is no room left for {tmp_path / 'journal.db'}: free some space on that disk."
            assert store.figures().last_error == expected

    asyncio.run(story())


def test_a_full_disk_gets_the_place_of_the_oldest_history(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, utc_s=100_000.0, history_step_s=1.0) as store:
            for at_s in range(20_000):
                store.record(DP_101, a_reading(float(at_s)))
            await store.flush()
            rows = store.figures().history_rows
            await _bound_pages(store, 0)
            await _append_until_unhealthy(store)
            await until(lambda: store.figures().history_rows < rows)

    asyncio.run(story())


def test_beyond_its_bound_the_memory_drops_the_oldest_events_and_counts_them(tmp_path, monkeypatch):
    monkeypatch.setattr(InTray.__init__, "__defaults__", (50,))

    async def story() -> None:
        async with opened(tmp_path) as store:
            await _bound_pages(store, 0)
            await _append_until_unhealthy(store)
            committed = store._journal.committed
            for _ in range(200):
                store.append([an_event(LONG)], {}, 1.0)
                await asyncio.sleep(0)
            await told(store, store._last_seq)
            figures = store.figures()
            events = await store.events_after(0, limit=1000)
            assert figures.waiting_events <= 50
            assert len(events) + figures.dropped_events == store._last_seq
            assert figures.outlets["mqtt"].backlog == len(events)
            assert [event.seq for event in events if event.seq <= committed] == list(range(1, committed + 1))
            await on_thread(
                store, lambda: store._journal.file.connection.execute("PRAGMA max_page_count = 1000000").fetchall()
            )
            await until(lambda: store.figures().healthy, 20)
            await store.flush()
            assert await store.events_after(0, limit=1000) == events

    asyncio.run(story())


def test_a_restart_after_a_full_disk_never_gives_a_number_again(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            await _bound_pages(store, 0)
            await _append_until_unhealthy(store)
            last = store._last_seq
            await told(store, last)
            store.confirm("mqtt", last)
            connection = store._journal.file.connection
            # Room for the cursor, none for the events: they are lost with the process.
            await on_thread(store, store._tray.take)
            await on_thread(store, lambda: connection.execute("UPDATE cursors SET seq = ?", (last,)).fetchall())
        async with opened(tmp_path) as store:
            assert store.append([an_event()], {}, 1.0)[0].seq == last + 1
            await told(store, last + 1)
            assert [event.seq for event in await store.events_after(store.cursor("mqtt"))] == [last + 1]

    asyncio.run(story())


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A real file system of 2 MB."""
    folder = tmp_path / "disk"
    folder.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=2m", "none", folder], check=True)
    yield folder
    subprocess.run(["umount", folder], check=True)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk; the other ways ran")
def test_a_real_full_disk_is_survived_and_everything_is_written_in_the_end(small_disk):
    filler = small_disk / "filler"

    async def story() -> None:
        async with opened(small_disk) as store:
            filler.write_bytes(bytes(shutil.disk_usage(small_disk).free - 200_000))
            await _story_of_a_full_disk(store, filler.unlink)

    asyncio.run(story())
    assert read(small_disk / "journal.db", "PRAGMA integrity_check") == [("ok",)]


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk; the other ways ran")
@pytest.mark.parametrize("fresh", [False, True])
def test_a_daemon_started_on_a_full_disk_watches_tells_and_writes_later(small_disk, fresh):
    filler = small_disk / "filler"

    async def before() -> None:
        async with opened(small_disk) as store:
            store.append([an_event(str(n + 1)) for n in range(5)], {"DC-101": '"latched"'}, 7.0)
            store.confirm("mqtt", 3)

    async def story(known: int) -> None:
        async with opened(small_disk, ["mqtt", "phone"]) as store:
            assert "no room left" in store.figures().last_error
            assert (store.scan_s, dict(store.snapshots)) == (
                (7.0, {"DC-101": '"latched"'}) if known else (0.0, {})
            )
            assert (store.cursor("mqtt"), store.cursor("phone")) == ((3, 5) if known else (0, 0))
            assert store.append([an_event(str(known + 1))], {"DC-102": "1"}, 8.0)[0].seq == known + 1
            await told(store, known + 1)
            untold = await store.events_after(store.cursor("mqtt"))
            assert [event.seq for event in untold] == ([4, 5, 6] if known else [1])
            assert store.figures().outlets["mqtt"].backlog == len(untold)
            name = store.instance_id
            filler.unlink()
            await until(lambda: store.figures().healthy)
            await store.flush()
            assert await store.events_after(store.cursor("mqtt")) == untold
        async with opened(small_disk, ["mqtt", "phone"]) as store:
            assert dict(store.snapshots) == ({"DC-101": '"latched"'} if known else {}) | {"DC-102": "1"}
            assert (store.scan_s, store.instance_id) == (8.0, name)
            assert await store.events_after(store.cursor("mqtt")) == untold

    if not fresh:
        asyncio.run(before())
    _fill_up(filler)
    asyncio.run(story(0 if fresh else 5))


def _fill_up(filler: Path) -> None:
    with filler.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(bytes(4096))


def test_a_file_that_turns_read_only_is_survived(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            store.append([an_event("1")], {}, 1.0)
            await store.flush()
            connection = store._journal.file.connection
            await on_thread(store, lambda: connection.execute("PRAGMA query_only = ON").fetchall())
            store.append([an_event("2")], {}, 1.0)
            await told(store, 2)
            assert "cannot be written" in store.figures().last_error
            assert texts(await store.events_after(0)) == ["1", "2"]
            await on_thread(store, lambda: connection.execute("PRAGMA query_only = OFF").fetchall())
            await until(lambda: store.figures().healthy)

    asyncio.run(story())


#: Runs the story where no file may grow beyond a limit; the soft limit is lifted to make room.
LIMITED = """
import asyncio, resource, sys
from pathlib import Path
from tests.remember.making import opened
from tests.remember.test_disk_full import _story_of_a_full_disk

def limit(size):
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))

async def main():
    async with opened(Path(sys.argv[1])) as store:
        limit(300_000)
        await _story_of_a_full_disk(store, lambda: limit(resource.RLIM_INFINITY))

asyncio.run(main())
"""


def test_a_disk_that_refuses_to_write_is_survived_and_everything_is_written_in_the_end(tmp_path):
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[1] == resource.RLIM_INFINITY
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(tmp_path)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    assert read(tmp_path / "journal.db", "PRAGMA integrity_check") == [("ok",)]


@pytest.mark.parametrize(
    ("error", "way_out"),
    [
        (OSError(errno.EIO, "I/O error"), "check the disk or the memory card"),
        (PermissionError(errno.EACCES, "Permission denied"), "check its owner"),
        (sqlite3.OperationalError("odd"), "could not be used: odd"),
    ],
)
def test_every_refusal_has_a_sentence_that_names_the_file(error, way_out):
    said = disk.sentence(error, Path("/var/lib/journal.db"))
    assert "/var/lib/journal.db" in said
    assert way_out in said
