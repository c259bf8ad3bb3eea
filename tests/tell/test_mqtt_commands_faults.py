"""Commands when something is wrong: rights, floods, garbage, a broker that dies, a rulebook that hangs."""

import asyncio
import json
import random
import time

import pytest

from monitor.tell.mqtt import backoff, command_door
from monitor.tell.mqtt.command_wire import MOST_PACKET_BYTES
from monitor.tell.mqtt.lenient_client import MOST_PROPERTY_BYTES
from tests.peers.mosquitto import Mosquitto
from tests.tell.commander import ANSWERS, COMMANDS, Commander, Rulebook, commanded_outlet, order
from tests.tell.journal import FakeJournal
from tests.tell.outlets import running
from tests.tell.subscriber import Subscriber, until

pytestmark = [pytest.mark.anyio, pytest.mark.usefixtures("quick_backoff")]

BOTH = pytest.mark.parametrize("version", [5, 3], ids=["MQTT 5", "MQTT 3.1.1"])
DYNAMIC_SECURITY = "/usr/lib/x86_64-linux-gnu/mosquitto_dynamic_security.so"

#: Nobody may subscribe to the commands; all else is allowed.
NO_COMMANDS = {
    "defaultACLAccess": {
        "publishClientSend": True,
        "publishClientReceive": True,
        "subscribe": True,
        "unsubscribe": True,
    },
    "anonymousGroup": "all",
    "groups": [{"groupname": "all", "roles": [{"rolename": "deaf"}]}],
    "roles": [{"rolename": "deaf", "acls": [{"acltype": "subscribeLiteral", "topic": COMMANDS, "allow": False}]}],
}


async def taking(outlet) -> None:
    await until(lambda: outlet.figures().commands_subscribed, what="commands are taken")


# ------------------------------------------------------------------ rights
@BOTH
async def test_a_subscription_that_the_broker_refuses_is_one_plain_sentence(tmp_path, caplog, version):
    rights = tmp_path / "rights.json"
    rights.write_text(json.dumps(NO_COMMANDS))
    lines = (f"plugin {DYNAMIC_SECURITY}", f"plugin_opt_config_file {rights}")
    with Mosquitto(tmp_path, *lines) as broker:
        journal = FakeJournal()
        outlet = commanded_outlet(broker.port, Rulebook(), journal, version=version)
        async with running(outlet):
            await until(lambda: "does not let us subscribe to cakewatch/commands" in outlet.figures().last_error)
            journal.add(3)
            outlet.wake(3)
            await until(lambda: journal.cursor("mqtt") == 3)

            assert outlet.figures().connected
            assert not outlet.figures().commands_subscribed
            assert "access list" in outlet.figures().last_error
            assert caplog.text.count("does not let us subscribe") == 1

            broker.kill()
            broker.rewrite()
            broker.start()
            await taking(outlet)
            assert outlet.figures().last_error == ""


async def test_answers_that_the_broker_refuses_are_said_and_hold_nothing_up(tmp_path):
    rules = tmp_path / "acl"
    rules.write_text(
        "topic readwrite #\nuser cakewatch\ntopic read cakewatch/commands\n"
        "topic write cakewatch/availability\ntopic write cakewatch/events\n"
    )
    with Mosquitto(tmp_path, f"acl_file {rules}") as broker:
        journal, rulebook = FakeJournal(), Rulebook()
        outlet = commanded_outlet(broker.port, rulebook, journal, username="cakewatch")
        with Commander(broker.port) as panel:
            async with running(outlet):
                await taking(outlet)
                panel.send(order("a1"))
                await until(lambda: f"refuses messages to {ANSWERS}" in outlet.figures().last_error)
                journal.add(30)
                outlet.wake(30)
                await until(lambda: journal.cursor("mqtt") == 30)
                panel.send(order("a2"), response_topic="panel/answers")
                await until(lambda: outlet.figures().refused == 2)

                assert outlet.figures().reconnects == 0
    assert panel.heard == []
    assert len(rulebook.done) == 2


# ------------------------------------------------------------------ a broker that dies
@BOTH
async def test_a_broker_killed_while_a_command_is_carried_out_costs_neither_deed_nor_answer(broker, version):
    journal, rulebook = FakeJournal(), Rulebook()
    rulebook.gate.clear()
    outlet = commanded_outlet(broker.port, rulebook, journal, version=version)
    with Commander(broker.port, version=version) as panel:
        async with running(outlet):
            await taking(outlet)
            sent = order("a1")
            panel.send(sent)
            await until(lambda: rulebook.asked)
            broker.kill()
            rulebook.gate.set()
            await until(lambda: not outlet.figures().connected)
            assert not outlet.figures().commands_subscribed
            broker.start()
            await taking(outlet)
            await until(lambda: panel.subscribed == 2, 10)
            # Whoever heard nothing asks again under the same id.
            panel.send(sent)
            await until(lambda: panel.heard and panel.heard[-1].json["repeated"])

    assert len(rulebook.done) == 1
    assert set(panel.codes()) == {"done"}


async def test_an_answer_given_while_the_broker_is_away_goes_out_when_it_is_back(broker, monkeypatch):
    # Long enough for the sender to be back before us.
    monkeypatch.setattr(backoff, "FIRST_S", 0.8)
    monkeypatch.setattr(backoff, "LONGEST_S", 0.8)
    rulebook = Rulebook()
    rulebook.gate.clear()
    outlet = commanded_outlet(broker.port, rulebook)
    async with running(outlet):
        with Commander(broker.port) as panel:
            await taking(outlet)
            panel.send(order("a1"), correlation=b"7")
            await until(lambda: rulebook.asked)
            broker.kill()
            await until(lambda: not outlet.figures().connected)
            rulebook.gate.set()
        broker.start()
        with Commander(broker.port) as panel:
            await until(lambda: panel.codes() == ["done"])
            assert panel.heard[0].correlation == b"7"


@BOTH
async def test_what_was_sent_while_nobody_watched_is_never_handed_over(broker, version):
    rulebook = Rulebook()
    with Commander(broker.port, version=version) as panel:
        first = commanded_outlet(broker.port, rulebook, version=version)
        async with running(first):
            await taking(first)
        panel.send(order("while-away"))
        await asyncio.sleep(0.2)
        second = commanded_outlet(broker.port, rulebook, version=version)
        async with running(second):
            await taking(second)
            panel.send(order("now"))
            await until(lambda: panel.codes() == ["done"])

    assert [command.command_id for command in rulebook.done] == ["now"]


# ------------------------------------------------------------------ too many, too slow, failing
async def test_a_flood_is_refused_answered_once_a_second_and_delays_no_event(broker):
    journal, rulebook = FakeJournal(), Rulebook()
    outlet = commanded_outlet(broker.port, rulebook, journal)
    with Commander(broker.port) as panel, Subscriber(broker.port, topic="cakewatch/events") as subscriber:
        async with running(outlet):
            await taking(outlet)
            began = time.monotonic()
            for number in range(400):
                panel.send(order(f"a{number}"), qos=0)
            journal.add(20)
            outlet.wake(20)
            await until(lambda: len(subscriber.seqs()) == 20)
            await until(lambda: outlet.figures().commands_received == 400)
            lasted_s = time.monotonic() - began
            await until(lambda: "too_many" in panel.codes())
            await until(lambda: panel.codes().count("done") == len(rulebook.done))

    allowed = command_door.BURST + command_door.PER_S * lasted_s
    assert command_door.BURST <= len(rulebook.done) <= allowed
    assert panel.codes().count("too_many") <= lasted_s + 1
    assert outlet.figures().commands_refused == 400 - len(rulebook.done)
    assert outlet.figures().reconnects == 0


async def test_a_rulebook_that_hangs_holds_up_no_more_than_the_bound_and_everybody_hears(broker, monkeypatch):
    monkeypatch.setattr(command_door, "TURN_LIMIT_S", 0.2)
    monkeypatch.setattr(command_door, "ANSWER_LIMIT_S", 0.4)
    monkeypatch.setattr(command_door, "BURST", 60)
    journal, rulebook = FakeJournal(), Rulebook()
    rulebook.gate.clear()
    outlet = commanded_outlet(broker.port, rulebook, journal)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            for number in range(30):
                panel.send(order(f"a{number}"), qos=0)
            await until(lambda: outlet.figures().commands_received == 30)
            journal.add(5)
            outlet.wake(5)
            await until(lambda: journal.cursor("mqtt") == 5)
            await until(lambda: panel.codes().count("not_written") == command_door.MOST_AT_ONCE)

    waited_in_vain = command_door.MOST_AWAITING - command_door.MOST_AT_ONCE
    assert rulebook.asked == command_door.MOST_AT_ONCE
    # Those beyond the bound are told once a second, those whose turn never came one by one.
    assert panel.codes().count("too_many") == 1 + waited_in_vain
    assert "not known whether it was carried out" in panel.heard[-1].json["text"]


async def test_a_fault_of_our_own_is_answered_and_the_outlet_goes_on(broker, caplog):
    rulebook = Rulebook()
    rulebook.fails = True
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(order("a1"))
            await until(lambda: panel.codes() == ["not_written"])
            rulebook.fails = False
            panel.send(order("a2"))
            await until(lambda: panel.codes() == ["not_written", "done"])

    assert "a fault of ours" in caplog.text


# ------------------------------------------------------------------ garbage
def _garbage(rng: random.Random) -> bytes:
    fields = {"command_id": "x", "command": "shelve", "tag": "T", "by": "ben", "sent_at": "2026-03-01T08:12:03Z"}
    kind = rng.randrange(6)
    if kind == 0:
        return rng.randbytes(rng.randrange(300))
    if kind == 1:
        return b"[" * rng.randrange(4000) + rng.randbytes(3)
    if kind == 2:
        return json.dumps(fields | {"for": rng.choice([1e308, -1, 10**400, "1e999 s", {}, [], True])}).encode()
    if kind == 3:
        return json.dumps(
            fields | {rng.choice(list(fields)): rng.choice([0, None, "\ud800", "\0", "x" * 900, {}])}
        )
    if kind == 4:
        return json.dumps(rng.choice([None, 3, "text", [fields], {"a": {"b": {}}}])).encode()
    text = bytearray(json.dumps(fields).encode())
    text[rng.randrange(len(text))] = rng.randrange(256)
    return bytes(text)


@BOTH
async def test_no_garbage_ends_the_connection_or_the_outlet(broker, monkeypatch, caplog, version):
    monkeypatch.setattr(command_door, "BURST", 10_000)
    rng = random.Random(20)
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook, version=version)
    with Commander(broker.port) as panel:
        async with running(outlet) as task:
            await taking(outlet)
            for _ in range(300):
                panel.send(_garbage(rng), qos=rng.randrange(3), retain=rng.random() < 0.1)
            panel.send(b"", retain=True)
            await until(lambda: outlet.figures().commands_received == 301, 15)
            panel.send(order("real"))
            await until(lambda: rulebook.done and rulebook.done[-1].command_id == "real")
            await until(lambda: any(told.json["command_id"] == "real" for told in panel.heard))

            assert not task.done()
            assert outlet.figures().reconnects == 0
    assert "Traceback" not in caplog.text


@pytest.mark.parametrize("retain", [False, True], ids=["once", "at each subscription"])
@pytest.mark.parametrize("qos", [0, 1])
async def test_a_property_that_the_library_cannot_read_does_not_end_the_connection(broker, qos, retain):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        if retain:
            panel.send(order("bad"), qos=qos, retain=True, user=("a", "\ufeff"))
        async with running(outlet):
            await taking(outlet)
            # More than may be unanswered at the broker: none of them may stay so.
            for _ in range(50):
                panel.send(order("bad"), qos=qos, user=("a", "\ufeff"))
            await until(lambda: outlet.figures().commands_received == 50 + retain)
            panel.send(order("good"))
            await until(lambda: panel.codes() == ["done"])

    assert [command.command_id for command in rulebook.done] == ["good"]
    assert (outlet.figures().reconnects, outlet.figures().commands_refused) == (0, 50 + retain)


async def test_a_message_with_more_properties_than_anybody_needs_is_not_read(broker):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(order("padded"), user=("a", "b" * MOST_PROPERTY_BYTES))
            panel.send(order("a1"), user=("a", "b" * (MOST_PROPERTY_BYTES - 20)))
            await until(lambda: panel.codes() == ["done"])

    assert [command.command_id for command in rulebook.done] == ["a1"]
    assert (outlet.figures().commands_refused, outlet.figures().reconnects) == (1, 0)


async def test_the_broker_keeps_huge_messages_from_us(broker):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(b"x" * MOST_PACKET_BYTES)
            panel.send(b"x" * (MOST_PACKET_BYTES - 200))
            panel.send(order("a1"))
            await until(lambda: panel.codes() == ["malformed", "done"])

    assert (outlet.figures().commands_received, outlet.figures().reconnects) == (2, 0)


async def test_on_mqtt_3_1_1_a_huge_message_is_refused_and_the_connection_stands(broker):
    outlet = commanded_outlet(broker.port, Rulebook(), version=3)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(b"x" * 3_000_000)
            await until(lambda: panel.codes() == ["malformed"])
            panel.send(order("a1"))
            await until(lambda: panel.codes() == ["malformed", "done"])

    assert outlet.figures().reconnects == 0
