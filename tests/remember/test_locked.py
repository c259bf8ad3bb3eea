"""Locked: other programs on the file (a backup, an SQL shell) are waited for, and never wait for us."""

import asyncio
import sqlite3

from tests.remember.making import an_event, opened, read, told, until


def _another_program(path) -> sqlite3.Connection:
    return sqlite3.connect(path, isolation_level=None, timeout=0.0)


def test_a_long_reader_neither_waits_nor_is_waited_for(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            store.append([an_event()], {}, 1.0)
            await told(store, 1)
            reader = _another_program(tmp_path / "journal.db")
            reader.execute("BEGIN")
            assert reader.execute("SELECT count(*) FROM journal").fetchone() == (1,)
            for n in range(2, 200):
                store.append([an_event()], {}, 1.0)
                await told(store, n)
            assert reader.execute("SELECT count(*) FROM journal").fetchone() == (1,)
            reader.close()
            assert store.figures().healthy

    asyncio.run(story())


def test_while_another_program_holds_the_write_lock_events_may_be_told_and_are_written_afterwards(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            other = _another_program(tmp_path / "journal.db")
            other.execute("BEGIN IMMEDIATE")
            store.append([an_event()], {"DC-101": "{}"}, 1.0)
            await told(store, 1)
            assert "Another program holds" in store.figures().last_error
            assert len(await store.events_after(0)) == 1
            other.execute("ROLLBACK")
            other.close()
            await until(lambda: store.figures().healthy)
            assert read(tmp_path / "journal.db", "SELECT seq FROM journal") == [(1,)]

    asyncio.run(story())


def test_a_lock_shorter_than_our_patience_is_not_even_noticed(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            other = _another_program(tmp_path / "journal.db")
            other.execute("BEGIN IMMEDIATE")
            store.append([an_event()], {}, 1.0)
            await asyncio.sleep(0.05)
            other.execute("ROLLBACK")
            other.close()
            await told(store, 1)
            assert store.figures().last_error == ""

    asyncio.run(story())


def test_a_backup_taken_in_full_flight_is_whole(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            for n in range(500):
                store.append([an_event()], {"DC-101": str(n + 1)}, 1.0)
                await asyncio.sleep(0)
                if n == 250:
                    source, target = _another_program(tmp_path / "journal.db"), sqlite3.connect(tmp_path / "copy")
                    source.backup(target)
                    source.close()
                    target.close()
            await store.flush()

    asyncio.run(story())
    copy = tmp_path / "copy"
    assert read(copy, "PRAGMA integrity_check") == [("ok",)]
    ((last,),) = read(copy, "SELECT coalesce(max(seq), 0) FROM journal")
    assert read(copy, "SELECT state FROM snapshots") == ([(str(last),)] if last else [])
