"""Commands over a real mosquitto that is well: who is obeyed, who is refused, and where the answer goes."""

import asyncio
import json
import time
from pathlib import Path

import jsonschema
import pytest

from monitor.tell.mqtt.reply_to import MOST_CORRELATION_BYTES, MOST_TOPIC_BYTES
from monitor.words import CommandKind, Door
from tests.tell.commander import ANSWERS, COMMANDS, Commander, Rulebook, commanded_outlet, order
from tests.tell.journal import FakeJournal
from tests.tell.outlets import outlet_for, running
from tests.tell.subscriber import until

pytestmark = [pytest.mark.anyio, pytest.mark.usefixtures("quick_backoff")]

BOTH = pytest.mark.parametrize("version", [5, 3], ids=["MQTT 5", "MQTT 3.1.1"])
MINE = "panel/answers"
CONFIG = Path(__file__).parents[2] / "config"


async def taking(outlet) -> None:
    await until(lambda: outlet.figures().commands_subscribed, what="commands are taken")


async def test_a_command_is_answered_on_its_response_topic_with_its_correlation(broker):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port, MINE, ANSWERS) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(order("a1", tag="PDAH-101"), response_topic=MINE, correlation=b"\x00\xff7")
            await until(lambda: panel.heard)

    told = panel.heard[0]
    assert (told.topic, told.correlation, told.qos, told.retained) == (MINE, b"\x00\xff7", 1, False)
    assert told.user == {"code": "done"}
    assert (told.json["command_id"], told.json["code"], told.json["state"]) == ("a1", "done", "acknowledged")
    assert len(panel.heard) == 1
    assert (outlet.figures().commands_received, outlet.figures().commands_refused) == (1, 0)


@BOTH
async def test_without_a_response_topic_the_answer_goes_to_the_topic_of_answers(broker, version):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook, version=version)
    with Commander(broker.port, version=version) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(order("a1"))
            await until(lambda: panel.codes() == ["done"])

    assert (panel.heard[0].qos, panel.heard[0].retained) == (1, False)


async def test_a_sender_of_mqtt_5_is_answered_by_an_outlet_of_3_1_1_on_the_topic_of_answers(broker):
    outlet = commanded_outlet(broker.port, Rulebook(), version=3)
    with Commander(broker.port, MINE, ANSWERS) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(order("a1"), response_topic=MINE, correlation=b"7")
            await until(lambda: panel.codes() == ["done"])

    assert panel.codes(MINE) == []


async def test_the_rulebook_is_told_who_asks_and_that_nothing_proves_it(broker):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            sent = order("a1", by="ben", command="shelve", reason="bag change", sent_at="2026-03-01T08:12:03.5Z")
            panel.send(sent[:-1] + b',"for":"30 min"}')
            await until(lambda: rulebook.done)

    command = rulebook.done[0]
    assert (command.door, command.proven, command.by) == (Door.MQTT, False, "ben")
    assert (command.kind, command.reason, command.for_s) == (CommandKind.SHELVE, "bag change", 1800.0)
    assert command.sent_utc_s == 1772352723.5


@BOTH
@pytest.mark.parametrize("how", ["off in the site file", "nobody to take them"])
async def test_unless_switched_on_nothing_is_subscribed_to_and_a_command_moves_nothing(broker, version, how):
    rulebook = Rulebook()
    if how == "off in the site file":
        outlet = commanded_outlet(broker.port, rulebook, version=version, commands=False)
    else:
        outlet = outlet_for(broker.port, FakeJournal(), version=version, commands=True)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await until(lambda: outlet.figures().connected)
            panel.send(order("a1"))
            await asyncio.sleep(0.5)

    ours = [line for line in broker.log_text().splitlines() if outlet.client_id in line]
    assert any("CONNACK" in line for line in ours)
    assert not any("SUBSCRIBE" in line or "Sending PUBLISH" in line for line in ours)
    assert (rulebook.asked, panel.heard) == (0, [])
    assert (outlet.figures().commands_subscribed, outlet.figures().commands_received) == (False, 0)


@BOTH
async def test_switched_on_the_one_topic_of_commands_is_subscribed_to_and_no_other(broker, version):
    outlet = commanded_outlet(broker.port, Rulebook(), version=version)
    async with running(outlet):
        await taking(outlet)

    log = broker.log_text()
    assert log.count(f"Received SUBSCRIBE from {outlet.client_id}") == 1
    assert f"{outlet.client_id} 1 {COMMANDS}" in log


@BOTH
async def test_a_retained_command_is_never_obeyed_and_the_answer_says_why(broker, version):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook, version=version)
    with Commander(broker.port) as panel:
        panel.send(order("old"), retain=True)
        async with running(outlet):
            await until(lambda: panel.codes() == ["retained"])
            panel.send(b"", retain=True)
            panel.send(order("new"))
            await until(lambda: "done" in panel.codes())

    assert "carried out again at each reconnect" in panel.heard[0].json["text"]
    assert panel.heard[0].json["command_id"] == "old"
    assert [command.command_id for command in rulebook.done] == ["new"]
    # On 3.1.1 the empty message that removes a retained one looks like any other.
    assert panel.codes() == ["retained", "done"] if version == 5 else ["retained", "malformed", "done"]


async def test_a_command_marked_to_be_retained_is_refused_even_the_first_time(broker):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(order("a1"), retain=True)
            await until(lambda: panel.codes() == ["retained"])

    assert rulebook.asked == 0


@pytest.mark.parametrize(
    ("payload", "word"),
    [
        pytest.param(b"acknowledge", "JSON", id="no JSON"),
        pytest.param(b"", "JSON", id="empty"),
        pytest.param(b"\xff\xfe", "UTF-8", id="no UTF-8"),
        pytest.param(b"[" * 4000, "JSON", id="deep"),
        pytest.param(b'{"command_id":' + b"9" * 4000 + b"}", "command_id", id="huge number"),
        pytest.param(order("a1", sent_at=None), "sent_at", id="no sent_at"),
        pytest.param(order("a1", by=None), "by", id="nobody"),
        pytest.param(order("a1", tag="x" * 5000), "4096", id="too large"),
    ],
)
async def test_what_is_no_command_is_answered_with_the_rule_and_the_way_out(broker, payload, word):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(payload)
            await until(lambda: panel.codes() == ["malformed"])
            assert outlet.figures().reconnects == 0

    assert word in panel.heard[0].json["text"]
    assert rulebook.asked == 0
    assert outlet.figures().commands_refused == 1


async def test_the_same_command_twice_is_done_once_and_answered_twice_alike(broker):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            sent = order("a1")
            panel.send(sent)
            panel.send(sent)
            await until(lambda: len(panel.heard) == 2)

    first, second = (one.json for one in panel.heard)
    assert len(rulebook.done) == 1
    assert (first["repeated"], second["repeated"]) == (False, True)
    assert first | {"repeated": True} == second


@pytest.mark.parametrize(
    "topic",
    [
        "panel/#",
        "panel/+/x",
        "$SYS/broker",
        "$share/group/panel",
        "cakewatch",
        COMMANDS,
        "cakewatch/events",
        "cakewatch/availability",
        "cakewatch/collectors/DC-101/state",
        "cakewatch/collectors/DC-101/alarms/PDAH-101",
        "cakewatch/answersish",
        "p" * (MOST_TOPIC_BYTES + 1),
        "",
    ],
)
async def test_a_response_topic_that_is_not_the_senders_own_is_refused(broker, topic):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(order("a1"), response_topic=topic, correlation=b"7")
            await until(lambda: panel.codes() == ["malformed"])

    assert "response topic must" in panel.heard[0].json["text"]
    assert (panel.heard[0].json["command_id"], panel.heard[0].correlation) == ("a1", b"7")
    assert rulebook.asked == 0


async def test_a_response_topic_below_the_answers_is_allowed(broker):
    outlet = commanded_outlet(broker.port, Rulebook())
    with Commander(broker.port, f"{ANSWERS}/panel") as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(order("a1"), response_topic=f"{ANSWERS}/panel")
            await until(lambda: panel.codes(f"{ANSWERS}/panel") == ["done"])


async def test_correlation_data_without_measure_is_refused(broker):
    rulebook = Rulebook()
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(order("a1"), correlation=b"x" * (MOST_CORRELATION_BYTES + 1))
            await until(lambda: panel.codes() == ["malformed"])

    assert panel.heard[0].correlation is None
    assert rulebook.asked == 0


async def test_a_screen_full_of_alarms_is_acknowledged_at_one_go(broker):
    rulebook = Rulebook()
    rulebook.takes_s = 0.02
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            for number in range(20):
                panel.send(order(f"a{number}"))
            await until(lambda: len(panel.heard) == 20)

    assert set(panel.codes()) == {"done"}
    assert [command.command_id for command in rulebook.done] == [f"a{number}" for number in range(20)]


async def test_a_command_is_acknowledged_to_the_broker_only_once_it_is_answered(broker):
    rulebook = Rulebook()
    rulebook.gate.clear()
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            panel.send(order("a1"))
            await until(lambda: rulebook.asked)
            await asyncio.sleep(0.2)
            assert f"Received PUBACK from {outlet.client_id}" not in broker.log_text()
            rulebook.gate.set()
            await until(lambda: f"Received PUBACK from {outlet.client_id}" in broker.log_text())


async def test_who_waits_for_an_answer_has_it_before_the_outlet_goes(broker):
    rulebook = Rulebook()
    rulebook.takes_s = 0.1
    outlet = commanded_outlet(broker.port, rulebook)
    with Commander(broker.port) as panel:
        async with running(outlet) as task:
            await taking(outlet)
            panel.send(order("a1"))
            await until(lambda: rulebook.asked)
            began = time.monotonic()
            task.cancel()
            await asyncio.wait([task])
            assert time.monotonic() - began < 1.0
        await until(lambda: panel.codes() == ["done"])


async def test_whatever_is_answered_fits_the_published_schema(broker):
    schema = json.loads((CONFIG / "commands.schema.json").read_text(encoding="utf-8"))
    answers = jsonschema.Draft202012Validator({"$ref": "#/$defs/answer", "$defs": schema["$defs"]})
    outlet = commanded_outlet(broker.port, Rulebook())
    with Commander(broker.port) as panel:
        async with running(outlet):
            await taking(outlet)
            for payload in (order("a1"), order("a1"), b"", order("a2", sent_at=None), order("a 3"), b"[]"):
                panel.send(payload)
            panel.send(order("a4"), response_topic="$SYS/x")
            await until(lambda: len(panel.heard) == 7)

    for told in panel.heard:
        answers.validate(told.json)
        assert told.user == {"code": told.code}


def test_what_the_schema_of_mqtt_says_of_commands_leads_to_the_schema_of_commands():
    mqtt = json.loads((CONFIG / "mqtt.schema.json").read_text(encoding="utf-8"))["$defs"]
    commands = json.loads((CONFIG / "commands.schema.json").read_text(encoding="utf-8"))["$defs"]

    for name in ("command", "answer"):
        assert mqtt[name]["$ref"] == f"commands.schema.json#/$defs/{name}"
        assert name in commands
    assert set(mqtt["command"]["required"]) <= set(commands["command"]["properties"])
