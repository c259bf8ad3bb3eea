"""The outlet before a real mosquitto that is well: what a subscriber sees, and in which order."""

import asyncio
import contextlib
import json
import time

import pytest

from monitor.tell.mqtt import events
from tests.peers.mosquitto import Mosquitto
from tests.tell.journal import FakeJournal
from tests.tell.outlets import outlet_for, running
from tests.tell.subscriber import Subscriber, until

pytestmark = [pytest.mark.anyio, pytest.mark.usefixtures("quick_backoff")]

BOTH = pytest.mark.parametrize("version", [5, 3], ids=["MQTT 5", "MQTT 3.1.1"])
STATE = "cakewatch/collectors/DC-101/state"
ALARM = "cakewatch/collectors/DC-101/alarms/PDAH-101"


@BOTH
async def test_birth_comes_first_and_events_follow_in_order_and_are_confirmed(broker, version):
    journal = FakeJournal()
    journal.add(50)
    outlet = outlet_for(broker.port, journal, version=version)
    with Subscriber(broker.port) as subscriber:
        await asyncio.sleep(0.2)
        outlet.offer_state(STATE, b'{"n":1}')
        async with running(outlet):
            await until(lambda: len(subscriber.seqs()) == 50)
            await until(lambda: journal.cursor("mqtt") == 50)
            journal.add()
            outlet.wake(51)
            began = time.monotonic()
            await until(lambda: subscriber.seqs()[-1] == 51)
            assert time.monotonic() - began < 0.2

        assert subscriber.heard[0].topic == "cakewatch/availability"
        assert subscriber.heard[0].json["online"] is True
        assert subscriber.seqs() == list(range(1, 52))
        assert journal.confirmed == sorted(journal.confirmed)
        assert (outlet.figures().in_flight, outlet.figures().confirmed) == (0, 51)


@BOTH
async def test_stopping_says_goodbye_within_a_second(broker, version):
    outlet = outlet_for(broker.port, FakeJournal(), version=version)
    with Subscriber(broker.port) as subscriber:
        async with running(outlet) as task:
            await until(lambda: outlet.figures().connected)
            began = time.monotonic()
            task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await task
            assert time.monotonic() - began < 1.0
        await until(lambda: len(subscriber.of("cakewatch/availability")) >= 2)
        last = subscriber.of("cakewatch/availability")[-1].json

    assert (last["online"], last["why"]) == (False, "stopped")
    assert last["at"] is not None


async def test_stopping_before_a_frozen_broker_ends_within_a_second_too(broker):
    outlet = outlet_for(broker.port, FakeJournal())
    async with running(outlet) as task:
        await until(lambda: outlet.figures().connected)
        broker.freeze()
        began = time.monotonic()
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task
        assert time.monotonic() - began < 1.0
    broker.thaw()


async def test_a_collectors_state_goes_out_at_most_once_a_period_and_the_newest_wins(broker):
    outlet = outlet_for(broker.port, FakeJournal(), state_period_s=0.2)
    with Subscriber(broker.port) as subscriber:
        async with running(outlet):
            await until(lambda: outlet.figures().connected)
            for n in range(100):
                outlet.offer_state(STATE, f'{{"n":{n}}}')
                await asyncio.sleep(0.01)
            await until(lambda: subscriber.of(STATE)[-1].json["n"] == 99)

        assert 5 <= len(subscriber.of(STATE)) <= 8


async def test_an_urgent_state_goes_out_at_once_even_inside_the_period(broker):
    outlet = outlet_for(broker.port, FakeJournal(), state_period_s=60.0)
    with Subscriber(broker.port) as subscriber:
        async with running(outlet):
            await until(lambda: outlet.figures().connected)
            outlet.offer_state(ALARM, '{"n":1}', urgent=True)
            await until(lambda: len(subscriber.of(ALARM)) == 1)
            outlet.offer_state(ALARM, lambda: b'{"n":2}', urgent=True)
            began = time.monotonic()
            await until(lambda: len(subscriber.of(ALARM)) == 2)

            assert time.monotonic() - began < 0.2


async def test_a_forgotten_topic_is_removed_from_the_broker(broker):
    outlet = outlet_for(broker.port, FakeJournal())
    async with running(outlet):
        outlet.offer_state(STATE, '{"n":1}')
        outlet.offer_state(ALARM, '{"n":1}', urgent=True)
        with Subscriber(broker.port) as subscriber:
            await until(lambda: subscriber.of(STATE) and subscriber.of(ALARM))
        outlet.forget(ALARM)
        await until(lambda: outlet.figures().waiting_states == 0)
        await asyncio.sleep(0.2)
        with Subscriber(broker.port) as later:
            await until(lambda: later.of(STATE))
            await asyncio.sleep(0.2)

            assert later.of(ALARM) == []


async def test_a_journal_that_cannot_be_read_is_said_and_got_over(broker, monkeypatch):
    monkeypatch.setattr(events, "_JOURNAL_PAUSE_S", 0.1)
    journal = FakeJournal()
    journal.add(3)
    journal.broken = True
    outlet = outlet_for(broker.port, journal)
    with Subscriber(broker.port) as subscriber:
        async with running(outlet):
            await until(lambda: "the journal cannot be read: the disk is gone" in outlet.figures().last_error)
            journal.broken = False
            await until(lambda: subscriber.seqs() == [1, 2, 3])
            await until(lambda: outlet.figures().last_error == "")


async def test_an_event_over_the_limit_is_set_aside_and_the_others_arrive(broker):
    journal = FakeJournal()
    journal.add(2)
    journal.add(text="x" * 5000)
    journal.add(2)
    outlet = outlet_for(broker.port, journal, max_payload_bytes=4000)
    with Subscriber(broker.port) as subscriber:
        async with running(outlet):
            await until(lambda: journal.cursor("mqtt") == 5)
            await until(lambda: len(subscriber.seqs()) == 4)

        assert subscriber.seqs() == [1, 2, 4, 5]
        assert list(journal.aside) == [3]
        assert "4000 are allowed" in journal.aside[3]


async def test_the_brokers_own_packet_limit_is_kept_without_being_thrown_out(tmp_path):
    journal = FakeJournal()
    journal.add()
    journal.add(text="x" * 3000)
    journal.add()
    with Mosquitto(tmp_path, "max_packet_size 2000") as broker, Subscriber(broker.port) as subscriber:
        outlet = outlet_for(broker.port, journal)
        outlet.offer_state(STATE, json.dumps({"n": "x" * 3000}))
        async with running(outlet):
            await until(lambda: journal.cursor("mqtt") == 3)
            await until(lambda: subscriber.seqs() == [1, 3])
            await until(lambda: outlet.figures().withheld == 1)

        assert list(journal.aside) == [2]
        assert outlet.figures().reconnects == 0
        assert "is withheld" in outlet.figures().last_error
