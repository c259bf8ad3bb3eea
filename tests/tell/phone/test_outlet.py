"""Outlet: the loop between the journal, the relay and the gateways; a real store, gateways of the test's own."""

import asyncio
import sqlite3
import threading
import time

import pytest

from monitor.errors import StoreError
from monitor.tell.phone import outlet as outlet_module
from monitor.tell.phone import relay
from monitor.tell.phone.message import Sent
from monitor.tell.phone.outlet import OUTLET
from monitor.tell.phone.post import BUSY, PLACES
from monitor.tell.phone.settings import Ping
from monitor.words import Priority
from tests.tell.phone.calling import OK, Calling, person, settings, until

pytestmark = pytest.mark.anyio
FAILED = Sent(delivered=False, took_s=0.0, why="refused: 500")


@pytest.fixture
def anyio_backend():
    return "asyncio"


class Gateway:
    """Notes what it is given and answers as it is told to."""

    def __init__(self, answer=OK):
        self.answer = answer
        self.sent = []
        self.gate = threading.Event()
        self.hangs = set()

    def __call__(self, channel, text):
        self.sent.append((time.monotonic(), channel, text))
        if channel.url in self.hangs:
            self.gate.wait(20)
        return self.answer

    @property
    def bodies(self):
        return [text.body for _, _, text in self.sent]

    def to(self, url):
        return [(at_s, text.body) for at_s, channel, text in self.sent if channel.url == url]


@pytest.fixture
def gateway():
    gateway = Gateway()
    yield gateway
    gateway.gate.set()


async def test_an_alarm_is_told_once_and_the_attempt_is_journaled(tmp_path, gateway):
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        raised = calling.raise_alarm()
        await until(lambda: calling.outlet.figures().channels[0].delivered)
        (told,) = await calling.journaled("notified")
        await asyncio.sleep(0.2)
        assert len(gateway.sent) == 1
        assert "PDAH-1" in gateway.bodies[0]
        assert told.facts["ref"] in gateway.bodies[0]
        assert calling.store.cursor(OUTLET) >= raised.seq


async def test_an_alarm_is_told_within_a_fraction_of_a_second(tmp_path, gateway):
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        late_s = []
        for number in range(1, 21):
            began_s = time.monotonic()
            calling.raise_alarm()
            await until(lambda number=number: len(gateway.sent) == number)
            late_s.append(gateway.sent[-1][0] - began_s)
    assert sorted(late_s)[10] < 0.25


async def test_nothing_leaves_before_the_state_it_belongs_to_is_on_disk(tmp_path):
    on_disk = []

    def look_at_the_disk(channel, text):
        on_disk.append(text.title in "\n".join(sqlite3.connect(tmp_path / "journal.db").iterdump()))
        return OK

    async with Calling(tmp_path, settings(person("anna")), look_at_the_disk) as calling:
        for number in range(1, 6):
            calling.raise_alarm(collector=f"DC-{number}")
            await until(lambda number=number: len(on_disk) == number)
    assert all(on_disk)


async def test_a_disk_that_hangs_holds_up_no_message_for_long(tmp_path, gateway, monkeypatch):
    monkeypatch.setattr(outlet_module, "_DISK_PATIENCE_S", 0.1)
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        calling.store.written = lambda: asyncio.sleep(60)
        calling.raise_alarm()
        await until(lambda: gateway.sent, 2.0)


async def test_what_was_on_its_way_is_offered_again_under_the_same_reference(tmp_path, gateway):
    gateway.hangs = {"x://"}
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        calling.raise_alarm()
        await until(lambda: gateway.sent)
    gateway.hangs = set()
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        await until(lambda: len(gateway.sent) == 2)
        await until(lambda: calling.outlet.figures().waiting == 0)
    assert gateway.bodies[0] == gateway.bodies[1]


async def test_what_was_delivered_is_not_told_again_after_a_restart(tmp_path, gateway):
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        calling.raise_alarm()
        await until(lambda: calling.outlet.figures().channels[0].delivered)
    async with Calling(tmp_path, settings(person("anna")), gateway):
        await asyncio.sleep(0.3)
    assert len(gateway.sent) == 1


async def test_one_who_is_called_for_the_first_time_is_not_told_of_the_past(tmp_path, gateway):
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        await calling.stop()
        calling.raise_alarm()
        calling.store.confirm(OUTLET, calling.raise_alarm().seq)
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        await asyncio.sleep(0.2)
        calling.raise_alarm(tag="PDAH-NEW")
        await until(lambda: gateway.sent)
    assert ["PDAH-NEW" in body for body in gateway.bodies] == [True]


async def test_texts_that_cannot_be_understood_cost_the_state_and_not_the_outlet(tmp_path, gateway):
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        calling.raise_alarm()
        await until(lambda: calling.outlet.figures().channels[0].delivered)
        await calling.stop()
        calling.store.remember({"phone": "nonsense", "phone/callout/x": "[1"}, 1.0)
        await calling.store.written()
    for _ in range(2):
        async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
            before = len(gateway.sent)
            calling.raise_alarm()
            await until(lambda: len(gateway.sent) > before)  # noqa: B023, awaited here


async def test_one_who_cannot_be_reached_delays_nobody_else(tmp_path, gateway):
    gateway.hangs = {"hang://"}
    people = settings(person("anna", "hang://", limit_s=3.0), person("ben", "good://"))
    async with Calling(tmp_path, people, gateway) as calling:
        late_s = []
        for number in range(1, 16):
            calling.raise_alarm("anna")
            began_s = time.monotonic()
            calling.raise_alarm("ben")
            await until(lambda number=number: len(gateway.to("good://")) == number, 2.0)
            late_s.append(gateway.to("good://")[-1][0] - began_s)
    assert max(late_s) < 0.5


async def test_threads_left_behind_are_bounded_and_the_next_attempt_fails_at_once(tmp_path, gateway):
    gateway.hangs = {"x://"}
    told = settings(person("zoe", limit_s=0.05), first_retry_s=0.02, longest_retry_s=0.02)
    async with Calling(tmp_path, told, gateway) as calling:
        calling.raise_alarm()
        await until(lambda: calling.outlet.figures().channels[0].last_error == BUSY)
        assert sum(thread.name.startswith("phone zoe") for thread in threading.enumerate()) == PLACES
        gateway.hangs = set()
        gateway.gate.set()
        await until(lambda: calling.outlet.figures().channels[0].delivered)


async def test_it_stops_at_once_while_a_gateway_hangs(tmp_path, gateway):
    gateway.hangs = {"x://"}
    async with Calling(tmp_path, settings(person("anna", limit_s=60)), gateway) as calling:
        calling.raise_alarm()
        await until(lambda: gateway.sent)
        began_s = time.monotonic()
        await calling.stop()
        assert time.monotonic() - began_s < 0.5


async def test_that_nobody_can_be_reached_is_said_once_and_so_is_the_end_of_it(tmp_path, gateway):
    gateway.answer = FAILED
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        await until(lambda: calling.reachable == [(True, "")])
        calling.raise_alarm()
        await until(lambda: len(calling.reachable) == 2)
        await asyncio.sleep(0.3)
        assert calling.outlet.figures().unreached == calling.reachable[1][1] != ""
        gateway.answer = OK
        await until(lambda: len(calling.reachable) == 3)
        assert [reachable for reachable, _ in calling.reachable] == [True, False, True]


async def test_another_person_is_called_from_the_moment_the_settings_say_so(tmp_path, gateway):
    async with Calling(tmp_path, settings(person("anna", "anna://")), gateway) as calling:
        calling.outlet.follow(settings(person("ben", "ben://")))
        calling.raise_alarm()
        await until(lambda: gateway.sent)
        assert [one.person for one in calling.outlet.figures().channels] == ["ben"]
    assert gateway.to("ben://")
    assert not gateway.to("anna://")


async def test_a_message_on_its_way_is_offered_again_when_the_settings_change(tmp_path, gateway):
    gateway.hangs = {"old://"}
    async with Calling(tmp_path, settings(person("anna", "old://", limit_s=60)), gateway) as calling:
        calling.raise_alarm()
        await until(lambda: gateway.to("old://"))
        calling.outlet.follow(settings(person("anna", "new://")))
        await until(lambda: gateway.to("new://"))
    assert gateway.bodies[0] == gateway.bodies[1]


async def test_the_same_settings_again_change_nothing(tmp_path, gateway):
    gateway.hangs = {"x://"}
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        calling.raise_alarm()
        await until(lambda: gateway.sent)
        calling.outlet.follow(settings(person("anna")))
        await asyncio.sleep(0.2)
    assert len(gateway.sent) == 1


async def test_what_cannot_be_worded_is_told_in_bare_facts(tmp_path, gateway):
    def no_words(message, *, short):
        raise KeyError("a word is missing")

    told = settings(person("anna", short=True))
    async with Calling(tmp_path, told, gateway, word=no_words) as calling:
        calling.raise_alarm(text="DC-101 is high " * 30)
        await until(lambda: gateway.sent)
    assert "PDAH-1" in gateway.bodies[0]
    assert len(gateway.bodies[0]) <= 160


async def test_a_journal_that_cannot_be_read_for_a_while_costs_nothing_but_time(
    tmp_path, gateway, monkeypatch, caplog
):
    monkeypatch.setattr(outlet_module, "_PAUSE_S", 0.1)
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        read, tries = calling.store.events_after, []

        async def fails_at_first(seq, limit):
            tries.append(seq)
            if len(tries) <= 4:
                raise StoreError("the disk is gone")
            return await read(seq, limit)

        calling.store.events_after = fails_at_first
        calling.raise_alarm()
        await until(lambda: gateway.sent)
    assert sum("the disk is gone" in record.getMessage() for record in caplog.records) == 1


async def test_an_event_that_is_not_understood_does_not_silence_the_others(tmp_path, gateway, monkeypatch):
    take = relay.take

    def stumbles(told, state, event, now):
        if event.tag == "PDAH-1":
            raise ValueError("a fault of ours")
        return take(told, state, event, now)

    monkeypatch.setattr(relay, "take", stumbles)
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        calling.raise_alarm()
        calling.raise_alarm()
        await until(lambda: gateway.sent)
    assert "PDAH-2" in gateway.bodies[0]


async def test_figures_tell_what_waits_and_what_failed(tmp_path, gateway):
    gateway.answer = FAILED
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        calling.raise_alarm(priority=Priority.HIGH)
        found = await until(lambda: (now := calling.outlet.figures()).channels[0].failed and now)
        assert (found.callouts, found.waiting) == (1, 1)
        assert found.channels[0].last_error == "refused: 500"
        assert found.channels[0].last_failed_utc_s
        assert found.channels[0].last_delivered_utc_s is None


async def test_the_outside_address_is_asked_by_the_way(tmp_path, gateway):
    told = settings(person("anna"), ping=Ping(url="http://127.0.0.1:1/", every_s=10.0, limit_s=1.0))
    async with Calling(tmp_path, told, gateway) as calling:
        found = await until(lambda: (now := calling.outlet.figures()).pings and now)
        assert (found.pings, found.ping_failures, found.ping_error) == (1, 1, "no connection")


async def test_an_idle_outlet_writes_nothing(tmp_path, gateway):
    async with Calling(tmp_path, settings(person("anna")), gateway) as calling:
        await asyncio.sleep(0.3)
        written, journal = [], calling.outlet._ties.journal
        calling.outlet._ties = calling.outlet._ties._replace(
            journal=lambda events, texts: written.append((events, texts)) or journal(events, texts)
        )
        await asyncio.sleep(0.5)
    assert written == []
