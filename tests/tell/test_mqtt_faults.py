"""The outlet before a mosquitto in trouble: gone, frozen, forgetful, refusing, or throwing us out."""

import asyncio
import json
import signal
import sys
from pathlib import Path

import pytest

from monitor.tell.mqtt import backoff, events
from tests.peers.mosquitto import Mosquitto
from tests.tell.journal import FakeJournal
from tests.tell.outlets import outlet_for, running
from tests.tell.subscriber import Subscriber, until

pytestmark = [pytest.mark.anyio, pytest.mark.usefixtures("quick_backoff")]

BOTH = pytest.mark.parametrize("version", [5, 3], ids=["MQTT 5", "MQTT 3.1.1"])
STATE = "cakewatch/collectors/DC-101/state"
ALARM = "cakewatch/collectors/DC-101/alarms/PDAH-101"
ROOT = Path(__file__).parents[2]


def first_told(subscriber: Subscriber) -> list[int]:
    """Each event where it came first; told again it must carry the same id."""
    told: dict[int, str] = {}
    for heard in subscriber.of("cakewatch/events"):
        assert told.setdefault(heard.json["seq"], heard.json["event_id"]) == heard.json["event_id"]
    return list(told)


@BOTH
async def test_events_of_a_time_without_broker_arrive_in_order_with_their_own_moments(tmp_path, version):
    journal = FakeJournal()
    broker = Mosquitto(tmp_path)
    outlet = outlet_for(broker.port, journal, version=version)
    async with running(outlet):
        await until(lambda: "refuses connections: is the broker running" in outlet.figures().last_error)
        journal.add(300)
        outlet.wake(300)
        with broker, Subscriber(broker.port) as subscriber:
            await until(lambda: journal.cursor("mqtt") == 300)
            await until(lambda: len(subscriber.seqs()) >= 300)

            assert first_told(subscriber) == list(range(1, 301))
            assert subscriber.of("cakewatch/events")[-1].json["happened_at"] == "2027-01-15T08:05:00.000Z"
            assert outlet.figures().last_error == ""


@BOTH
async def test_a_killed_broker_without_persistence_is_told_everything_retained_anew(tmp_path, version):
    journal = FakeJournal()
    broker = Mosquitto(tmp_path)
    outlet = outlet_for(broker.port, journal, version=version)
    with broker:
        async with running(outlet):
            outlet.offer_state(STATE, '{"n":1}')
            outlet.offer_state(ALARM, '{"n":1}', urgent=True)
            journal.add(10)
            outlet.wake(10)
            await until(lambda: journal.cursor("mqtt") == 10)
            broker.kill()
            journal.add(25)
            outlet.forget(ALARM)
            outlet.offer_state(STATE, '{"n":2}')
            await until(lambda: not outlet.figures().connected)
            broker.start()
            await until(lambda: journal.cursor("mqtt") == 35 and outlet.figures().waiting_states == 0)
            await asyncio.sleep(0.2)
            with Subscriber(broker.port) as later:
                await until(lambda: later.of(STATE) and later.of("cakewatch/availability"))
                await asyncio.sleep(0.2)

                assert later.of(STATE)[0].json == {"n": 2}
                assert later.of(STATE)[0].retained
                assert later.of("cakewatch/availability")[0].json["online"] is True
                assert later.of(ALARM) == []
            assert outlet.figures().reconnects >= 1


@BOTH
async def test_a_broker_killed_again_and_again_loses_no_event_and_changes_no_order(tmp_path, version):
    journal = FakeJournal()
    broker = Mosquitto(tmp_path)
    outlet = outlet_for(broker.port, journal, version=version)
    heard: list[list[int]] = []
    with broker:
        async with running(outlet):
            for _ in range(3):
                with Subscriber(broker.port) as subscriber:
                    await until(lambda: outlet.figures().connected)
                    await asyncio.sleep(0.15)
                    outlet.wake(journal.add(100))
                    await asyncio.sleep(0.03)
                    broker.kill()
                    await asyncio.sleep(0.1)
                    heard.append(first_told(subscriber))
                broker.start()
            with Subscriber(broker.port) as subscriber:
                await until(lambda: journal.cursor("mqtt") == 300)
                await asyncio.sleep(0.1)
                heard.append(first_told(subscriber))

    # What a killed broker had confirmed and not passed on is lost with it, so loss is counted at the broker.
    assert journal.aside == {}
    assert journal.confirmed == sorted(journal.confirmed)
    assert outlet.figures().confirmed >= 300
    assert broker.log_text().count("'cakewatch/events'") >= 300
    assert all(told == sorted(told) for told in heard)


async def test_a_frozen_broker_is_noticed_and_its_events_arrive_after_the_thaw(broker):
    journal = FakeJournal()
    outlet = outlet_for(broker.port, journal, keepalive_s=1)
    with Subscriber(broker.port) as subscriber:
        async with running(outlet):
            await until(lambda: outlet.figures().connected)
            broker.freeze()
            outlet.wake(journal.add(30))
            await until(lambda: outlet.figures().in_flight == 20)
            await until(lambda: "it hangs" in outlet.figures().last_error)
            assert journal.cursor("mqtt") == 0
            broker.thaw()
            await until(lambda: journal.cursor("mqtt") == 30, 10)
            await until(lambda: len(set(subscriber.seqs())) == 30)

    assert first_told(subscriber) == list(range(1, 31))


async def test_a_refusal_by_the_access_list_waits_and_loses_nothing(tmp_path, monkeypatch, caplog):
    monkeypatch.setattr(events, "HOLD_S", 0.3)
    rights = tmp_path / "acl"
    rights.write_text("topic read #\ntopic write cakewatch/availability\n")
    rights.chmod(0o600)
    journal = FakeJournal()
    journal.add(30)
    with Mosquitto(tmp_path, f"acl_file {rights}") as broker, Subscriber(broker.port) as subscriber:
        outlet = outlet_for(broker.port, journal)
        async with running(outlet):
            outlet.offer_state(ALARM, "{}", urgent=True)
            await until(lambda: outlet.figures().refused >= 4)
            trouble = outlet.figures().last_error
            assert journal.cursor("mqtt") == 0
            rights.write_text("topic readwrite #\n")
            broker.signal(signal.SIGHUP)
            await until(lambda: journal.cursor("mqtt") == 30)
            await until(lambda: len(subscriber.seqs()) == 30)
            outlet.offer_state(ALARM, "{}", urgent=True)
            await until(lambda: outlet.figures().last_error == "")

    assert "refuses messages to cakewatch/events: this user may not publish there" in trouble
    assert f"refuses messages to {ALARM}" in trouble
    assert subscriber.seqs() == list(range(1, 31))
    assert journal.aside == {}
    assert sum("cakewatch/events" in record.message for record in caplog.records) == 1


@pytest.mark.parametrize(
    ("version", "limit"),
    [
        # With MQTT 5 this mosquitto answers with a code that PUBACK does not have, and the library hangs up.
        pytest.param(5, "message_size_limit 1500", id="MQTT 5, size of the message"),
        pytest.param(3, "max_packet_size 1500", id="MQTT 3.1.1, size of the packet"),
    ],
)
async def test_an_event_the_broker_throws_us_out_for_is_set_aside_and_the_rest_arrives(tmp_path, version, limit):
    journal = FakeJournal()
    journal.add(5)
    journal.add(text="x" * 3000)
    journal.add(5)
    with Mosquitto(tmp_path, limit) as broker, Subscriber(broker.port) as subscriber:
        outlet = outlet_for(broker.port, journal, version=version)
        async with running(outlet):
            await until(lambda: journal.cursor("mqtt") == 11, 15)
            await until(lambda: len(set(subscriber.seqs())) == 10)

    assert first_told(subscriber) == [1, 2, 3, 4, 5, 7, 8, 9, 10, 11]
    assert list(journal.aside) == [6]
    assert "ends the connection" in journal.aside[6]


async def test_states_the_broker_throws_us_out_for_are_withheld_and_events_go_on(tmp_path):
    journal = FakeJournal()
    with Mosquitto(tmp_path, "max_packet_size 1500") as broker, Subscriber(broker.port) as subscriber:
        outlet = outlet_for(broker.port, journal, version=3)
        outlet.offer_state(STATE, json.dumps({"n": "x" * 2500}))
        outlet.offer_state(ALARM, '{"n":1}', urgent=True)
        async with running(outlet):
            await until(lambda: "is withheld" in outlet.figures().last_error, 10)
            outlet.wake(journal.add(5))
            await until(lambda: journal.cursor("mqtt") == 5)
            await until(lambda: subscriber.of(ALARM) and len(set(subscriber.seqs())) == 5)

    assert journal.aside == {}


async def test_the_last_will_speaks_when_the_daemon_is_killed(broker):
    script = """
import asyncio, sys
from tests.tell.journal import FakeJournal
from tests.tell.outlets import outlet_for
asyncio.run(outlet_for(int(sys.argv[1]), FakeJournal()).run())
"""
    with Subscriber(broker.port, topic="cakewatch/availability") as subscriber:
        daemon = await asyncio.create_subprocess_exec(sys.executable, "-c", script, str(broker.port), cwd=ROOT)
        try:
            await until(lambda: len(subscriber.heard) == 1, 10)
            daemon.kill()
            await until(lambda: len(subscriber.heard) == 2)
        finally:
            await daemon.wait()

    assert [heard.json["online"] for heard in subscriber.heard] == [True, False]
    assert subscriber.heard[1].json["why"] == "connection lost"


@BOTH
async def test_two_clients_with_one_identifier_are_noticed_and_said(broker, version, monkeypatch):
    monkeypatch.setattr(backoff, "FIRST_S", 0.02)
    one = outlet_for(broker.port, FakeJournal(), version=version, client_id="same")
    other = outlet_for(broker.port, FakeJournal(), version=version, client_id="same")

    def said() -> bool:
        return any("identifier 'same'" in outlet.figures().last_error for outlet in (one, other))

    async with running(one), running(other):
        await until(said, 10)
