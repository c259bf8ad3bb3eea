"""Reading: another process sees every event while the store writes, and leaves nothing behind."""

import asyncio
import os
import shutil
import sqlite3
import subprocess
import sys

import pytest

from monitor.errors import StoreError
from monitor.remember.reading import JournalReader
from tests.remember.making import DP_101, a_reading, an_event, opened, texts, told


def _all(folder):
    with JournalReader(folder) as reader:
        return list(reader.events())


def _written(folder, count=3, **settings):
    async def story() -> None:
        async with opened(folder, **settings) as store:
            store.append([an_event(f"event {n}") for n in range(count)], {}, 1.0)
            await told(store, count)

    asyncio.run(story())


def test_every_event_is_seen_while_the_store_is_open_and_writing(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            store.append([an_event("one"), an_event("two")], {}, 1.0)
            await told(store, 2)
            with JournalReader(tmp_path) as reader:
                assert texts(list(reader.events())) == ["one", "two"]
                store.append([an_event("three")], {}, 2.0)
                await told(store, 3)
                assert texts(list(reader.events())) == ["one", "two", "three"]
            assert store.figures().healthy

    asyncio.run(story())


def test_another_process_reads_while_this_one_writes(tmp_path):
    asking = (
        "import sys; from pathlib import Path; from monitor.remember.reading import JournalReader\n"
        "with JournalReader(Path(sys.argv[1])) as reader: print(sum(1 for _ in reader.events()))"
    )

    async def story() -> None:
        async with opened(tmp_path) as store:
            for n in range(1, 201):
                store.append([an_event()], {}, float(n))
            await told(store, 200)
            asked = await asyncio.create_subprocess_exec(
                sys.executable, "-c", asking, str(tmp_path), stdout=subprocess.PIPE
            )
            for n in range(201, 301):
                store.append([an_event()], {}, float(n))
            answer, _ = await asked.communicate()
            await told(store, 300)
            assert 200 <= int(answer) <= 300
            assert store.figures().healthy

    asyncio.run(story())


def test_more_events_than_a_page_come_in_order_and_once(tmp_path, monkeypatch):
    _written(tmp_path, 25)
    monkeypatch.setattr("monitor.remember.reading.PAGE_EVENTS", 10)
    assert [event.seq for event in _all(tmp_path)] == list(range(1, 26))


def test_a_look_at_a_store_at_rest_leaves_no_file(tmp_path):
    _written(tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert len(_all(tmp_path)) == 3
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_what_a_killed_daemon_left_in_its_log_is_seen(tmp_path):
    async def story() -> None:
        async with opened(tmp_path / "live") as store:
            store.append([an_event("in the log")], {}, 1.0)
            await told(store, 1)
            shutil.copytree(tmp_path / "live", tmp_path / "left")

    asyncio.run(story())
    assert (tmp_path / "left" / "journal.db-wal").stat().st_size > 0
    assert texts(_all(tmp_path / "left")) == ["in the log"]


def test_a_reader_cannot_write(tmp_path):
    _written(tmp_path)
    with JournalReader(tmp_path) as reader, pytest.raises(sqlite3.OperationalError, match="readonly"):
        reader._journal.execute("DELETE FROM set_aside_events")


def test_the_last_trace_is_the_last_step_of_the_history_before_a_moment(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, history_step_s=10.0, keep_history_s=1e11) as store:
            for at_s in (100.0, 115.0, 900.0):
                store.record(DP_101, a_reading(at_s))
            await store.flush()

    asyncio.run(story())
    with JournalReader(tmp_path) as reader:
        assert [reader.last_trace(at_s) for at_s in (1e9, 500.0, 110.5, 100.0)] == [900.0, 110.0, 110.0, None]


def test_without_a_history_no_trace_is_known(tmp_path):
    _written(tmp_path)
    (tmp_path / "history.db").unlink()
    with JournalReader(tmp_path) as reader:
        assert reader.last_trace(1e12) is None
        assert len(list(reader.events())) == 3


def _newer(path):
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA user_version = 99")
    connection.close()


def _somebody_elses(path):
    path.unlink()
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE recipes (name TEXT)")
    connection.close()


def _broken(path):
    path.write_bytes(b"SQLite format 3\x00" + os.urandom(8192))


def _no_database(path):
    path.write_bytes(b"this is a shopping list\n" * 400)


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda path: path.unlink(), "no daemon has run with this site file yet"),
        (_newer, "made by a newer cakewatch"),
        (_somebody_elses, "was not made by cakewatch"),
        (_broken, "the daemon sets it aside at its next start"),
        (_no_database, "the daemon sets it aside at its next start"),
    ],
)
def test_what_cannot_be_read_is_said_in_a_sentence(tmp_path, spoil, sentence):
    _written(tmp_path)
    spoil(tmp_path / "journal.db")
    with pytest.raises(StoreError, match=sentence) as raised:
        _all(tmp_path)
    assert str(tmp_path / "journal.db") in str(raised.value)


def test_damage_in_the_middle_is_said_in_a_sentence(tmp_path):
    _written(tmp_path, 3000)
    path = tmp_path / "journal.db"
    whole = bytearray(path.read_bytes())
    middle = len(whole) // 2 // 4096 * 4096
    whole[middle : middle + 40960] = b"\xff" * 40960
    path.write_bytes(whole)
    with pytest.raises(StoreError, match="is broken"):
        _all(tmp_path)


def test_a_file_one_may_not_open_is_said_in_a_sentence(tmp_path, monkeypatch):
    _written(tmp_path)

    def refuse(*_args, **_more):
        error = sqlite3.OperationalError("unable to open database file")
        error.sqlite_errorcode = sqlite3.SQLITE_CANTOPEN
        raise error

    monkeypatch.setattr("monitor.remember.reading.database.number", refuse)
    with pytest.raises(StoreError, match="ask again as the user the daemon runs as"):
        _all(tmp_path)
