"""The outlet before answers that no broker at hand gives: reason codes, limits, silence after the login."""

import asyncio

import pytest

from monitor.tell.mqtt import events, session
from tests.tell.journal import FakeJournal
from tests.tell.outlets import outlet_for, running
from tests.tell.scripted_broker import ScriptedBroker, puback
from tests.tell.subscriber import until

pytestmark = [pytest.mark.anyio, pytest.mark.usefixtures("quick_backoff")]

EVENTS = "cakewatch/events"


async def test_a_session_taken_over_is_counted_and_said():
    def answer(number, topic, message_id):
        return puback(message_id) + b"\xe0\x01\x8e"

    async with ScriptedBroker(answer) as broker:
        outlet = outlet_for(broker.port, FakeJournal(), client_id="mine")
        async with running(outlet):
            await until(lambda: outlet.figures().taken_over >= 2)

    assert "another client connected" in outlet.figures().last_error
    assert "'mine'" in outlet.figures().last_error


@pytest.mark.parametrize("code", [0x90, 0x99])
async def test_a_message_the_broker_calls_bad_is_set_aside_at_once(code):
    journal = FakeJournal()
    journal.add(3)
    bad: list[int] = []

    def answer(number, topic, message_id):
        if topic == EVENTS and not bad:
            bad.append(message_id)
            return puback(message_id, code)
        return puback(message_id)

    async with ScriptedBroker(answer) as broker:
        outlet = outlet_for(broker.port, journal)
        async with running(outlet):
            await until(lambda: journal.cursor("mqtt") == 3)

    assert list(journal.aside) == [1]
    assert outlet.figures().reconnects == 0


async def test_a_message_id_in_use_begins_a_new_connection_and_loses_nothing():
    journal = FakeJournal()
    journal.add(3)
    refused: list[int] = []

    def answer(number, topic, message_id):
        if topic == EVENTS and not refused:
            refused.append(message_id)
            return puback(message_id, 0x91)
        return puback(message_id)

    async with ScriptedBroker(answer) as broker:
        outlet = outlet_for(broker.port, journal)
        async with running(outlet):
            await until(lambda: journal.cursor("mqtt") == 3)

        assert broker.connections == 2
    assert journal.aside == {}


@pytest.mark.parametrize("code", [0x80, 0x83, 0x87, 0x97])
async def test_a_refusal_that_may_be_mended_holds_the_events(monkeypatch, code):
    monkeypatch.setattr(events, "HOLD_S", 0.2)
    journal = FakeJournal()
    journal.add(3)
    refusals: list[int] = []

    def answer(number, topic, message_id):
        if topic == EVENTS and len(refusals) < 5:
            refusals.append(message_id)
            return puback(message_id, code)
        return puback(message_id)

    async with ScriptedBroker(answer) as broker:
        outlet = outlet_for(broker.port, journal)
        async with running(outlet):
            await until(lambda: journal.cursor("mqtt") == 3)

    # The first three were under way together; after that one at a time.
    assert len(refusals) == 5
    assert journal.aside == {}


async def test_the_brokers_receive_maximum_is_kept():
    journal = FakeJournal()
    journal.add(10)
    unanswered: list[int] = []

    def answer(number, topic, message_id):
        if topic != EVENTS:
            return puback(message_id)
        unanswered.append(message_id)
        return b""

    async with ScriptedBroker(answer, b"\x20\x06\x00\x00\x03\x21\x00\x02") as broker:
        outlet = outlet_for(broker.port, journal)
        async with running(outlet):
            await until(lambda: len(unanswered) == 2)
            await asyncio.sleep(0.3)

            assert len(unanswered) == 2


async def test_a_birth_that_is_never_answered_begins_a_new_connection(monkeypatch):
    monkeypatch.setattr(session, "CONNECT_LIMIT_S", 0.2)
    async with ScriptedBroker(lambda number, topic, message_id: b"") as broker:
        outlet = outlet_for(broker.port, FakeJournal())
        async with running(outlet):
            await until(lambda: broker.connections >= 2)

    assert "has confirmed nothing" in outlet.figures().last_error
    assert set(broker.topics) == {"cakewatch/availability"}


async def test_nothing_but_the_birth_goes_out_before_its_answer():
    journal = FakeJournal()
    journal.add(5)
    async with ScriptedBroker(lambda number, topic, message_id: b"") as broker:
        outlet = outlet_for(broker.port, journal)
        outlet.offer_state("cakewatch/collectors/DC-101/state", b"{}")
        async with running(outlet):
            await asyncio.sleep(0.5)

    # The second, if any, is the farewell.
    assert set(broker.topics) == {"cakewatch/availability"}
