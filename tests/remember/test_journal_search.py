"""Journal search: some events, the newest first, beside a store that goes on writing."""

import pytest

from monitor.clock import Clock
from monitor.errors import StoreError
from monitor.remember.journal_search import Wanted, last_before, newest
from monitor.remember.settings import StoreSettings
from monitor.remember.store import Store
from monitor.words import Event, EventKind

pytestmark = pytest.mark.anyio


@pytest.fixture
def anyio_backend():
    return "asyncio"


@pytest.fixture
async def folder(tmp_path):
    store = Store.open(StoreSettings(folder=tmp_path), now=Clock().now, outlets=())
    for n in range(30):
        named = {"collector": f"DC-{101 + n % 2}", "tag": f"PDAH-{101 + n % 2}"} if n % 3 else {}
        named = {"collector": "DC-101"} if n % 5 == 0 else named
        store.append(
            [Event(kind=EventKind.ALARM, happened="raised", at_utc_s=100.0 + n, text=f"{n}", **named)], {}, n
        )
    await store.flush()
    yield tmp_path
    await store.close()


def texts(events):
    return [int(event.text) for event in events]


async def test_the_newest_come_first_and_older_ones_after_them(folder):
    first = newest(folder, Wanted(most=10))
    assert texts(first) == list(range(29, 19, -1))
    assert texts(newest(folder, Wanted(before_seq=first[-1].seq, most=3))) == [19, 18, 17]


async def test_of_one_collector_come_those_of_its_alarms_and_those_without_a_tag(folder):
    expected = [n for n in range(30) if n % 5 == 0 or (n % 3 and n % 2 == 0)]
    assert texts(newest(folder, Wanted(collector="DC-101", tags=("PDAH-101",), most=50))) == expected[::-1]
    assert newest(folder, Wanted(collector="DC-999", tags=(), most=50)) == []


async def test_a_span_has_its_begin_and_not_its_end(folder):
    assert texts(newest(folder, Wanted(since_utc_s=105.0, until_utc_s=108.0))) == [7, 6, 5]


async def test_of_each_tag_the_last_before_a_moment(folder):
    assert texts(last_before(folder, ["PDAH-101", "PDAH-102", "PDAH-999"], 110.0)) == [8, 7]


async def test_a_folder_without_a_journal_is_said(tmp_path):
    with pytest.raises(StoreError, match="no daemon has run"):
        newest(tmp_path, Wanted())
