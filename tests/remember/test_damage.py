"""Damage: a broken file is set aside and never deleted; the daemon goes on with what could be saved."""

import asyncio
import os
from pathlib import Path

import pytest

from monitor.remember import database
from tests.remember.making import (
    DP_101,
    a_reading,
    an_event,
    on_thread,
    open_store,
    opened,
    read,
    texts,
    told,
    until,
)

NOISE = os.urandom(4096)


async def _fill(folder: Path, events: int = 2000) -> None:
    async with opened(folder, utc_s=10_000.0, history_step_s=1.0) as store:
        for n in range(events):
            store.append([an_event(f"{n + 1} {'x' * 200}")], {"DC-101": f'{{"n":{n + 1}}}'}, float(n + 1))
            store.record(DP_101, a_reading(float(n)))
        store.confirm("mqtt", events - 10)


def _overwrite(path: Path, offset: int, noise: bytes) -> None:
    with path.open("r+b") as file:
        file.seek(offset)
        file.write(noise)


def _page_of_events(path: Path, text: str) -> int:
    """Where the page that holds this text begins."""
    return path.read_bytes().rindex(text.encode()) // 4096 * 4096


def _broken(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if ".broken-" in path.name)


@pytest.mark.parametrize("name", ["journal.db", "history.db"])
@pytest.mark.parametrize("harm", ["noise over the header", "noise alone", "cut in the first page", "no database"])
def test_a_file_beyond_reading_is_set_aside_and_a_fresh_one_begun(tmp_path, name, harm):
    asyncio.run(_fill(tmp_path, 50))
    path = tmp_path / name
    whole = path.read_bytes()
    broken = {
        "noise over the header": NOISE[:100] + whole[100:],
        "noise alone": NOISE,
        "cut in the first page": whole[:50],
        "no database": b"this is a text file\n" * 500,
    }[harm]
    path.write_bytes(broken)

    async def story() -> None:
        async with opened(tmp_path, utc_s=1_735_786_245.0) as store:
            assert store.set_aside == tmp_path / f"{name}.broken-20250102T025045Z"
            assert store.set_aside.read_bytes() == broken
            store.append([an_event("after")], {"DC-101": "{}"}, 1.0)
            store.record(DP_101, a_reading(1_735_786_245.0))
            await store.flush()
            assert texts(await store.last_events(1)) == ["after"]
            assert len(await store.history(DP_101, 1_735_000_000.0, 1_736_000_000.0)) == 1
        async with opened(tmp_path) as store:
            assert store.set_aside is None

    asyncio.run(story())


def test_a_cut_file_gives_what_is_left_of_it(tmp_path):
    asyncio.run(_fill(tmp_path))
    path = tmp_path / "journal.db"
    os.truncate(path, path.stat().st_size // 2)

    async def story() -> None:
        async with opened(tmp_path) as store:
            assert store.set_aside is not None
            store.append([an_event("after")], {}, 5000.0)
            await store.flush()
            assert texts(await store.last_events(1)) == ["after"]
            assert store.figures().healthy

    asyncio.run(story())


def test_noise_over_a_page_of_events_costs_neither_a_latch_nor_the_numbers(tmp_path):
    asyncio.run(_fill(tmp_path))
    path = tmp_path / "journal.db"
    name = read(path, "SELECT instance_id FROM about")[0][0]
    _overwrite(path, _page_of_events(path, "500 xxx"), NOISE)

    async def story() -> None:
        async with opened(tmp_path) as store:
            assert store.set_aside is not None
            assert dict(store.snapshots) == {"DC-101": '{"n":2000}'}
            assert (store.scan_s, store.instance_id, store.cursor("mqtt")) == (2000.0, name, 1990)
            await told(store, 2000)
            untold = await store.events_after(1990)
            assert [event.seq for event in untold] == list(range(1991, 2001))
            assert store.append([an_event("after")], {}, 2001.0)[0].seq == 2001
        async with opened(tmp_path) as store:
            assert [event.seq for event in await store.events_after(1990)] == list(range(1991, 2002))
            assert dict(store.snapshots) == {"DC-101": '{"n":2000}'}

    asyncio.run(story())


def test_a_large_file_is_opened_without_reading_all_of_it_and_its_damage_is_met_in_use(tmp_path, monkeypatch):
    asyncio.run(_fill(tmp_path))
    monkeypatch.setattr(database, "WHOLE_CHECK_BYTES", 0)
    path = tmp_path / "journal.db"
    _overwrite(path, _page_of_events(path, "500 xxx"), NOISE)

    async def story() -> None:
        async with opened(tmp_path) as store:
            assert store.set_aside is None
            await store.last_events(2000)
            assert len(_broken(tmp_path)) == 1
            assert [event.seq for event in await store.events_after(1990)] == list(range(1991, 2001))
            assert store.figures().healthy
        async with opened(tmp_path) as store:
            assert dict(store.snapshots) == {"DC-101": '{"n":2000}'}

    asyncio.run(story())


def test_a_large_file_with_broken_states_is_set_aside_at_once(tmp_path, monkeypatch):
    asyncio.run(_fill(tmp_path, 50))
    monkeypatch.setattr(database, "WHOLE_CHECK_BYTES", 0)
    path = tmp_path / "journal.db"
    ((root,),) = read(path, "SELECT rootpage FROM sqlite_master WHERE name = 'snapshots'")
    _overwrite(path, (root - 1) * 4096, NOISE)

    async def story() -> None:
        async with opened(tmp_path) as store:
            assert store.set_aside is not None
            assert (dict(store.snapshots), store.scan_s, store.cursor("mqtt")) == ({}, 50.0, 40)
            await told(store, 50)
            assert [event.seq for event in await store.events_after(40)] == list(range(41, 51))

    asyncio.run(story())


def test_noise_over_the_untold_events_is_survived_and_counted(tmp_path):
    async def story() -> None:
        await _fill(tmp_path)
        async with opened(tmp_path) as store:
            path = store._journal.file.path
            connection = store._journal.file.connection
            await on_thread(store, lambda: connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall())
            _overwrite(path, _page_of_events(path, "1995 xxx"), NOISE)
            # The page is in SQLite's memory still; a fresh look at the disk is what a real daemon meets later.
            await on_thread(store, lambda: connection.execute("PRAGMA shrink_memory").fetchall())
            store.append([an_event("after")], {"DC-102": "{}"}, 5000.0)
            await told(store, 2001)
            await store.last_events(20)
            assert len(_broken(tmp_path)) == 1
            found = await store.events_after(1990)
            assert texts(found)[-1] == "after"
            assert len(found) + store.figures().dropped_events == 11
            assert store.figures().outlets["mqtt"].backlog == len(found)
            assert "a fresh one was begun" in store.figures().last_error
        async with opened(tmp_path) as store:
            assert dict(store.snapshots) == {"DC-101": '{"n":2000}', "DC-102": "{}"}

    asyncio.run(story())


def test_damage_found_in_use_is_set_aside_and_nothing_untold_is_lost(tmp_path):
    async def story() -> None:
        await _fill(tmp_path)
        async with opened(tmp_path) as store:
            path = store._journal.file.path
            connection = store._journal.file.connection
            _overwrite(path, _page_of_events(path, "500 xxx"), NOISE)
            root = read(path, "SELECT rootpage FROM sqlite_master WHERE name = 'journal_by_tag'")[0][0]
            _overwrite(path, (root - 1) * 4096, NOISE)
            await on_thread(store, lambda: connection.execute("PRAGMA shrink_memory").fetchall())
            before = await store.events_after(1990)
            store.append([an_event("after")], {"DC-102": "{}"}, 5000.0)
            await told(store, 2001)
            assert len(_broken(tmp_path)) > 0
            assert texts(await store.events_after(1990)) == [*texts(before), "after"]
            assert store.figures().dropped_events == 0
            assert store.figures().healthy
        async with opened(tmp_path) as store:
            assert dict(store.snapshots) == {"DC-101": '{"n":2000}', "DC-102": "{}"}
            assert (store.scan_s, store.cursor("mqtt")) == (5000.0, 1990)

    asyncio.run(story())


def test_broken_history_found_in_use_costs_no_event(tmp_path):
    async def story() -> None:
        await _fill(tmp_path)
        async with opened(tmp_path, utc_s=10_000.0, history_step_s=1.0) as store:
            connection = store._history.file.connection
            _overwrite(store._history.file.path, 4096, NOISE * 20)
            await on_thread(store, lambda: connection.execute("PRAGMA shrink_memory").fetchall())
            store.record(DP_101, a_reading(9_000.0))
            store.append([an_event("after")], {}, 5000.0)
            await store.history(DP_101, 0.0, 10_000.0)
            await store.flush()
            await until(lambda: store.figures().healthy)
            assert [row.start_utc_s for row in await store.history(DP_101, 0.0, 10_000.0)] == [9_000]
            assert any(name.startswith("history.db.broken-") for name in _broken(tmp_path))
            assert texts(await store.last_events(1)) == ["after"]

    asyncio.run(story())


def test_a_deleted_file_is_begun_again_with_what_is_known(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            store.append([an_event("before")], {"DC-101": "{}"}, 1.0)
            await store.flush()
            (tmp_path / "journal.db").unlink()
            store.append([an_event("after")], {}, 2.0)
            await told(store, 2)
            assert texts(await store.events_after(0)) == ["before", "after"]
        async with opened(tmp_path) as store:
            assert (dict(store.snapshots), store.scan_s) == ({"DC-101": "{}"}, 2.0)
            assert texts(await store.events_after(0)) == ["before", "after"]

    asyncio.run(story())


def test_two_broken_files_in_one_second_get_two_names(tmp_path):
    names = set()
    for _ in range(3):
        (tmp_path / "journal.db").write_bytes(NOISE)
        store = open_store(tmp_path, utc_s=0.0)
        names.add(store.set_aside)
        asyncio.run(store.close())
    assert len(names) == 3
    assert all(path.read_bytes() == NOISE for path in names)
