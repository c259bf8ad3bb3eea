"""Stream: over a real socket, an open page hears of everything in time, and holds up nobody when it does not."""

import asyncio
from dataclasses import replace

import pytest

from monitor.tell.page import feed, listener
from monitor.words import AlarmState, Event, EventKind
from tests.tell import mill
from tests.tell.page.yard import Yard, later, listening, served

pytestmark = pytest.mark.anyio


@pytest.fixture
def quick(monkeypatch):
    """The rhythms five times as fast, where the time itself is not what is tried."""
    monkeypatch.setattr(feed, "CARDS_S", 0.2)
    monkeypatch.setattr(feed, "BEAT_S", 0.4)


async def until(holds, within_s=5.0):
    async with asyncio.timeout(within_s):
        while not holds():  # noqa: ASYNC110  nobody tells when it does
            await asyncio.sleep(0.01)


@pytest.mark.parametrize("headers", [{}, {"Accept_Encoding": "gzip"}])
async def test_a_page_gets_the_whole_plant_first_and_then_the_beat(quick, headers):
    async with served(Yard()) as page, listening(page, **headers) as one:
        kind, plant = await one.next(within_s=1.0)
        assert kind == "plant"
        assert [card["name"] for card in plant["collectors"]] == ["DC-101", "DC-102"]
        assert one.retry == {"retry": "2000"}
        head = one.headers.lower()
        assert b"text/event-stream" in head
        assert b"no-store" in head
        assert (b"content-encoding: gzip" in head) == bool(headers)
        _, beat = await one.next("beat", within_s=2.5)
        assert (beat["ok"], beat["why"]) == (True, "")


async def test_a_beat_says_what_stands_still(quick):
    yard = Yard()
    yard.checks = {"judge": "the judge has not come round for 20 s"}
    async with served(yard) as page, listening(page) as one:
        _, beat = await one.next("beat")
        assert (beat["ok"], beat["why"]) == (False, "the judge has not come round for 20 s")


async def test_a_fault_of_the_page_ends_nothing_and_is_said_until_it_is_over(quick, monkeypatch):
    yard = Yard()
    async with served(yard) as page, listening(page) as one:
        await one.next("cards")
        whole_plan = yard.plans["DC-101"]
        yard.reads("DC-101", 5.0)
        yard.plans["DC-101"] = None
        _, beat = await one.next("beat")
        while beat["ok"]:
            _, beat = await one.next("beat")
        assert "cannot be made" in beat["why"]
        yard.plans["DC-101"] = whole_plan
        yard.reads("DC-101", 5.0)
        while not beat["ok"]:
            _, beat = await one.next("beat")


async def test_a_new_figure_is_there_within_a_second_and_a_bit():
    yard = Yard()
    async with served(yard) as page, listening(page) as one:
        await one.next("cards")
        yard.reads("DC-102", 5.126)
        _, told = await one.next("values", within_s=1.3)
        assert told["dp"]["DC-102"][:2] == [5.13, 0]
        assert "DC-101" not in told["dp"]


async def test_a_figure_that_looks_the_same_is_told_only_now_and_then(quick):
    yard = Yard()
    async with served(yard) as page, listening(page) as one:
        await one.next("cards")
        yard.reads("DC-101", 4.2)
        yard.at = later(1.0)
        yard.reads("DC-101", 4.2001)
        yard.reads("DC-102", 7.5)
        _, told = await one.next("values")
        assert list(told["dp"]) == ["DC-102"]
        yard.at = later(6.0)
        yard.reads("DC-101", 4.2001)
        _, told = await one.next("values")
        assert told["dp"]["DC-101"][2] == later(6.0).utc_s


async def test_a_change_of_quality_comes_as_a_whole_card(quick):
    yard = Yard()
    async with served(yard) as page, listening(page) as one:
        await one.next("cards")
        yard.put("DC-101", mill.BAD)
        _, told = await one.next("cards", within_s=1.3)
        (card,) = told["collectors"]
        assert (card["name"], card["state"], card["dp"]["value"]) == ("DC-101", "blind", None)
        assert "links" not in told


async def test_an_alarm_is_there_within_half_a_second(quick):
    yard = Yard()
    async with served(yard) as page, listening(page) as one:
        await one.next("cards")
        yard.put("DC-101", alarms={"PDAH-101": mill.active()})
        _, told = await one.next("alarms", within_s=0.5)
        while not told["alarms"]:
            _, told = await one.next("alarms", within_s=0.5)
        assert [alarm["tag"] for alarm in told["alarms"]] == ["PDAH-101"]


async def test_an_event_comes_as_soon_as_the_journal_has_it():
    yard = Yard()
    async with served(yard) as page, listening(page) as one:
        await one.next("plant")
        happened = Event(
            kind=EventKind.ALARM, happened="raised", at_utc_s=1.0, text="DC-101: high", collector="DC-101",
            tag="PDAH-101", state=AlarmState.UNACKNOWLEDGED, seq=7, event_id="e-7",
        )  # fmt: skip
        yard.page.happened(happened)
        _, told = await one.next("event", within_s=0.5)
        assert (told["seq"], told["text"], told["state"]) == (7, "DC-101: high", "unacknowledged")


async def test_a_lost_link_is_told_whole(quick):
    yard = Yard()
    async with served(yard) as page, listening(page) as one:
        await one.next("cards")
        yard.link = replace(yard.link, connected=False, last_error="no answer within 2 s")
        _, told = await one.next("cards", within_s=1.3)
        assert told["collectors"] == []
        assert [(link["connected"], link["error"]) for link in told["links"]] == [(False, "no answer within 2 s")]


async def test_another_site_file_sends_everybody_the_whole_plant_again(quick):
    yard = Yard()
    async with served(yard) as page, listening(page) as one:
        await one.next("cards")
        del yard.plans["DC-101"]
        yard.page.follow()
        _, plant = await one.next("plant", within_s=1.0)
        assert [card["name"] for card in plant["collectors"]] == ["DC-102"]


async def test_a_page_that_is_closed_is_forgotten():
    yard = Yard()
    async with served(yard) as page:
        async with listening(page) as one:
            await one.next("plant")
            assert len(yard.page.feed) == 1
        await until(lambda: len(yard.page.feed) == 0)


async def test_a_page_that_takes_nothing_holds_no_more_than_its_bound(quick, monkeypatch):
    monkeypatch.setattr(listener, "MOST_BYTES", 50_000)
    yard = Yard(count=40)
    async with served(yard) as page:
        _, writer = await page.connect("/api/v1/stream")
        writer.transport.pause_reading()
        await until(lambda: len(yard.page.feed) == 1)
        (slow,) = yard.page.feed._listeners
        most = 0
        for seq in range(3000):
            yard.page.happened(Event(kind=EventKind.SYSTEM, happened="x", at_utc_s=1.0, text="x" * 2000, seq=seq))
            most = max(most, slow._bytes)
            if seq % 100 == 0:
                await asyncio.sleep(0.01)
        assert 0 < most <= 50_000
        async with listening(page) as quick:
            assert (await quick.next(within_s=1.0))[0] == "plant"
            await quick.next("beat", within_s=2.5)
        writer.close()


async def test_a_page_that_fell_behind_gets_the_plant_as_it_is_now(monkeypatch):
    monkeypatch.setattr(listener, "MOST_BYTES", 3_000)
    yard = Yard()
    async with served(yard) as page, listening(page) as one:
        await one.next("plant")
        for seq in range(5):
            yard.page.happened(Event(kind=EventKind.SYSTEM, happened="x", at_utc_s=1.0, text="x" * 2000, seq=seq))
        yard.reads("DC-101", 6.5)
        _, plant = await one.next("plant", within_s=1.0)
        assert plant["collectors"][0]["dp"]["value"] == 6.5


async def test_too_many_pages_are_turned_away_in_a_sentence(monkeypatch):
    monkeypatch.setattr(feed, "MOST_LISTENERS", 1)
    yard = Yard()
    async with served(yard) as page, listening(page) as one:
        await one.next("plant")
        status, body = await page.json("/api/v1/stream")
        assert status == 503
        assert "too many" in body["error"]


async def test_the_end_of_the_daemon_ends_the_stream():
    yard = Yard()
    async with served(yard) as page, listening(page) as one:
        await one.next("plant")
        yard.page.close()
        with pytest.raises(EOFError):
            await one.next("never", within_s=2.0)
