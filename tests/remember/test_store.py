"""Store: what its callers may rely on while the disk does what it should."""

import asyncio
import threading
import time
from pathlib import Path

import pytest

from monitor.errors import StoreError
from monitor.remember import store as store_module
from monitor.remember.store import Store
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


def test_an_event_is_told_only_when_another_process_could_read_it(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            seen: list[list[tuple]] = []
            store.on_committed(lambda seq: seen.append(read(tmp_path / "journal.db", "SELECT seq FROM journal")))
            (stamped,) = store.append([an_event()], {}, 1.0)
            await told(store, stamped.seq)
            assert seen == [[(stamped.seq,)]]

    asyncio.run(story())


def test_events_are_synced_and_states_alone_are_not(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            said: list[str] = []
            connection = store._journal.file.connection
            await on_thread(store, lambda: connection.set_trace_callback(said.append))
            store.append([an_event()], {"DC-101": "{}"}, 1.0)
            await told(store, 1)
            assert said[0] == "PRAGMA synchronous = FULL"
            assert [line for line in said if line in ("BEGIN IMMEDIATE", "COMMIT")] == [
                "BEGIN IMMEDIATE",
                "COMMIT",
            ]
            said.clear()
            store.remember({"DC-101": "{}"}, 2.0)
            await until(lambda: "COMMIT" in said)
            assert said[0] == "PRAGMA synchronous = NORMAL"
            await on_thread(store, lambda: connection.set_trace_callback(None))

    asyncio.run(story())


def test_nothing_may_be_told_before_it_is_committed(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            hold, held = threading.Event(), threading.Event()
            blocked = asyncio.ensure_future(on_thread(store, lambda: (held.set(), hold.wait(5))))
            await until(held.is_set)
            store.append([an_event()], {}, 1.0)
            assert store.figures().waiting_events == 1
            assert store._journal.after(0, 10) == []
            hold.set()
            await blocked
            await told(store, 1)
            assert len(await store.events_after(0)) == 1

    asyncio.run(story())


def test_the_stamped_event_is_the_one_that_is_read_back(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            stamped = store.append([an_event("one"), an_event("two")], {}, 1.0)
            await told(store, 2)
            assert tuple(await store.events_after(0)) == stamped
            assert tuple(await store.events_after(1)) == stamped[1:]
            assert tuple(await store.events_after(0, limit=1)) == stamped[:1]

    asyncio.run(story())


def test_numbers_go_on_and_ids_never_return_over_restarts(tmp_path):
    async def story() -> list[tuple[int, str]]:
        found = []
        for _ in range(4):
            async with opened(tmp_path) as store:
                found += [(each.seq, each.event_id) for each in store.append([an_event(), an_event()], {}, 1.0)]
        return found

    found = asyncio.run(story())
    assert [seq for seq, _ in found] == list(range(1, 9))
    assert len({event_id for _, event_id in found}) == 8


def test_order_is_by_number_although_the_wall_clock_goes_back(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            for at_utc_s in (1_700_000_000.0, 1_600_000_000.0, 0.0, 1_700_000_001.0):
                store.append([an_event(str(at_utc_s), at_utc_s=at_utc_s)], {}, 1.0)
            await told(store, 4)
            assert [event.seq for event in await store.events_after(0)] == [1, 2, 3, 4]
            assert [event.seq for event in await store.last_events(2)] == [3, 4]

    asyncio.run(story())


def test_last_events_of_a_tag_are_that_tags(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            store.append([an_event(str(n), tag=f"PDAH-10{n % 2}") for n in range(6)], {}, 1.0)
            await store.flush()
            assert texts(await store.last_events(2, "PDAH-100")) == ["2", "4"]
            assert await store.last_events(5, "PDAL-999") == []

    asyncio.run(story())


def test_states_and_scan_second_survive_and_the_latest_wins(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            assert (store.scan_s, dict(store.snapshots)) == (0.0, {})
            store.append([an_event()], {"DC-101": '{"n":1}', "DC-102": "{}"}, 10.0)
            store.remember({"DC-101": '{"n":2}'}, 11.0)
            store.remember({"DC-101": '{"n":3}'}, 12.5)
            name = store.instance_id
        async with opened(tmp_path) as store:
            assert (store.scan_s, dict(store.snapshots)) == (12.5, {"DC-101": '{"n":3}', "DC-102": "{}"})
            assert store.instance_id == name
            store.remember({"DC-102": ""}, 13.0)
        async with opened(tmp_path) as store:
            assert list(store.snapshots) == ["DC-101"]

    asyncio.run(story())


def test_states_without_events_are_written_soon_by_themselves(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            store.remember({"DC-101": "{}"}, 3.0)
            await until(lambda: read(tmp_path / "journal.db", "SELECT scan_s FROM about") == [(3.0,)], 2.0)
            store.confirm("mqtt", 0)

    asyncio.run(story())


def test_a_cursor_only_goes_forward_and_never_past_the_last_event(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            store.append([an_event() for _ in range(5)], {}, 1.0)
            for seq, stands in ((3, 3), (2, 3), (4, 4), (99, 5)):
                store.confirm("mqtt", seq)
                assert store.cursor("mqtt") == stands
        async with opened(tmp_path) as store:
            assert store.cursor("mqtt") == 5

    asyncio.run(story())


def test_a_confirmation_is_written_soon_by_itself(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            store.append([an_event()], {}, 1.0)
            await told(store, 1)
            store.confirm("mqtt", 1)
            await until(lambda: read(tmp_path / "journal.db", "SELECT seq FROM cursors") == [(1,)], 2.0)

    asyncio.run(story())


def test_a_new_outlet_starts_at_the_end_and_a_known_one_where_it_was(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, ["mqtt"]) as store:
            store.append([an_event() for _ in range(5)], {}, 1.0)
            store.confirm("mqtt", 2)
        async with opened(tmp_path, ["mqtt", "phone"]) as store:
            assert (store.cursor("mqtt"), store.cursor("phone")) == (2, 5)
            assert store.figures().outlets["mqtt"].backlog == 3
            assert store.figures().outlets["phone"].backlog == 0

    asyncio.run(story())


def test_an_outlet_that_is_no_longer_named_is_forgotten(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, ["mqtt", "phone"]) as store:
            store.append([an_event()], {}, 1.0)
        async with opened(tmp_path, ["mqtt"]) as store:
            with pytest.raises(StoreError, match="without an outlet named 'phone'"):
                store.cursor("phone")
        async with opened(tmp_path, ["mqtt", "phone"]) as store:
            assert (store.cursor("mqtt"), store.cursor("phone")) == (0, 1)

    asyncio.run(story())


def test_figures_say_how_far_each_outlet_is_behind_and_since_when(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, ["mqtt", "phone"]) as store:
            store.append([an_event(at_utc_s=100.0 + n) for n in range(4)], {}, 1.0)
            store.confirm("mqtt", 3)
            outlets = store.figures().outlets
            assert (outlets["mqtt"].backlog, outlets["mqtt"].oldest_utc_s) == (1, 103.0)
            assert (outlets["phone"].backlog, outlets["phone"].oldest_utc_s) == (4, 100.0)
            store.confirm("mqtt", 4)
            assert store.figures().outlets["mqtt"].oldest_utc_s is None
        async with opened(tmp_path, ["mqtt", "phone"]) as store:
            assert store.figures().outlets == {**outlets, "mqtt": store.figures().outlets["mqtt"]}
            assert store.figures().journal_events == 4

    asyncio.run(story())


def test_an_undeliverable_event_is_recorded_and_passed(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            store.append([an_event()], {}, 1.0)
            store.set_aside_event("mqtt", 1, "larger than the broker takes")
            store.confirm("mqtt", 1)

    asyncio.run(story())
    rows = read(tmp_path / "journal.db", "SELECT outlet, seq, why FROM set_aside_events")
    assert rows == [("mqtt", 1, "larger than the broker takes")]


def test_the_oldest_confirmed_events_leave_and_unconfirmed_ones_stay(tmp_path):
    async def story() -> None:
        async with opened(tmp_path, ["mqtt", "phone"], keep_events=100) as store:
            for _ in range(15):
                store.append([an_event() for _ in range(10)], {}, 1.0)
                await told(store, store._last_seq)
            store.confirm("mqtt", 150)
            store.confirm("phone", 30)
            store.append([an_event()], {}, 1.0)
            await store.flush()
            assert [event.seq for event in await store.events_after(0, 1)] == [31]
            store.confirm("phone", 151)
            await store.flush()
            assert store.figures().journal_events == 100
            assert [event.seq for event in await store.events_after(0, 1)] == [52]
            assert store.figures().dropped_events == 0

    asyncio.run(story())


def test_an_outlet_that_never_comes_back_cannot_fill_the_disk_and_the_log_says_so_once(tmp_path, caplog):
    async def story() -> None:
        async with opened(tmp_path, ["mqtt", "phone"], keep_events=100) as store:
            for _ in range(60):
                store.append([an_event() for _ in range(10)], {}, 1.0)
                store.confirm("mqtt", store._last_seq)
                await told(store, store._last_seq)
            await store.flush()
            figures = store.figures()
            assert figures.journal_events <= 210
            assert figures.dropped_events + figures.outlets["phone"].backlog == 600
            first = (await store.events_after(store.cursor("phone"), 1))[0]
            assert first.seq == figures.dropped_events + 1

    asyncio.run(story())
    assert read(tmp_path / "journal.db", "SELECT why LIKE 'given up%' FROM set_aside_events LIMIT 1") == [(1,)]
    assert [record.levelname for record in caplog.records if "given up untold" in record.getMessage()] == ["ERROR"]


def test_a_second_daemon_on_the_same_folder_is_refused_with_a_sentence(tmp_path):
    async def story() -> None:
        async with opened(tmp_path):
            with pytest.raises(StoreError, match=r"in use by process \d+: stop that daemon first"):
                open_store(tmp_path)
        async with opened(tmp_path) as store:
            assert store.figures().healthy

    asyncio.run(story())


def test_a_folder_that_cannot_be_made_is_refused_with_a_sentence(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StoreError, match=r"cannot be made .*name another one in the site file"):
        open_store(tmp_path / "file" / "store")


def test_a_folder_that_cannot_be_written_is_refused_with_a_sentence():
    with pytest.raises(StoreError, match=r"/proc/self cannot be written .*give it to the user"):
        open_store(Path("/proc/self"))


def test_a_failed_opening_leaves_the_folder_free(tmp_path):
    (tmp_path / "history.db").mkdir()
    with pytest.raises(StoreError, match=r"history\.db"):
        open_store(tmp_path)
    (tmp_path / "history.db").rmdir()

    async def story() -> None:
        async with opened(tmp_path) as store:
            assert store.figures().healthy

    asyncio.run(story())


def test_closing_writes_everything_and_a_second_close_is_harmless(tmp_path):
    async def story() -> None:
        store = open_store(tmp_path, flush_s=300.0)
        store.append([an_event()], {"DC-101": "{}"}, 4.0)
        store.record(DP_101, a_reading(time.time()))
        await store.close()
        await store.close()
        with pytest.raises(StoreError, match="closed"):
            await store.events_after(0)
        with pytest.raises(StoreError, match="closed"):
            await store.flush()

    asyncio.run(story())
    assert read(tmp_path / "journal.db", "SELECT count(*) FROM journal") == [(1,)]
    assert read(tmp_path / "history.db", "SELECT count(*) FROM history") == [(1,)]
    assert not (tmp_path / "journal.db-wal").exists()


async def _hung(store: Store) -> threading.Event:
    """The disk answers again when the returned event is set."""
    answers, asked = threading.Event(), threading.Event()
    store._writer.ask(lambda: (asked.set(), answers.wait(20)), lambda error: False)
    await until(asked.is_set)
    return answers


def test_a_disk_that_hangs_holds_neither_the_loop_nor_the_closing(tmp_path, monkeypatch):
    monkeypatch.setattr(store_module, "STUCK_S", 0.05)

    async def story() -> None:
        store = open_store(tmp_path)
        answers = await _hung(store)
        began = time.perf_counter()
        store.append([an_event()], {"DC-101": "{}"}, 4.0)
        store.remember({"DC-101": "{}"}, 5.0)
        store.confirm("mqtt", 1)
        store.record(DP_101, a_reading(1.0))
        assert time.perf_counter() - began < 0.05
        await asyncio.sleep(0.1)
        assert not store.figures().healthy
        assert "has not answered for" in store.figures().last_error
        with pytest.raises(StoreError, match="has not answered"):
            await store.flush()
        began = time.perf_counter()
        await store.close()
        assert time.perf_counter() - began < 1.2
        answers.set()
        await until(store._writer.ended.done)

    asyncio.run(story())
    assert read(tmp_path / "journal.db", "SELECT count(*) FROM journal") == [(1,)]


def test_more_questions_than_the_disk_can_answer_are_refused(tmp_path):
    async def story() -> None:
        async with opened(tmp_path) as store:
            answers = await _hung(store)
            asked = [asyncio.ensure_future(store.events_after(0)) for _ in range(300)]
            await asyncio.sleep(0)
            answers.set()
            results = await asyncio.gather(*asked, return_exceptions=True)
            assert sum(isinstance(result, StoreError) for result in results) == 300 - 256

    asyncio.run(story())


def test_a_folder_that_is_made_is_for_its_owner_alone(tmp_path):
    async def story() -> None:
        async with opened(tmp_path / "store"):
            assert (tmp_path / "store").stat().st_mode & 0o077 == 0

    asyncio.run(story())
