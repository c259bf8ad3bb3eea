"""The parts behind the command door, each alone: measure, order, bounds, places."""

import asyncio
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from monitor.tell.mqtt import command_talk
from monitor.tell.mqtt.allowance import Allowance
from monitor.tell.mqtt.board import Board
from monitor.tell.mqtt.command_door import CommandDoor
from monitor.tell.mqtt.command_talk import AGAIN_S, CommandTalk
from monitor.tell.mqtt.desk import Desk
from monitor.tell.mqtt.incoming import Incoming
from monitor.tell.mqtt.lenient_client import LenientClient, identity, property_bytes
from monitor.tell.mqtt.outbox import LONGEST_WAIT_S, MOST_IN_FLIGHT, MOST_WAITING, Outbox, Reply
from monitor.tell.mqtt.receipts import Receipts
from monitor.tell.mqtt.reply_to import MOST_TOPIC_BYTES, reply_to
from monitor.tell.mqtt.window import Window
from monitor.tell.settings import MqttSettings
from monitor.tell.topics import Topics
from tests.tell.commander import Rulebook, commanded_outlet, order
from tests.tell.journal import FakeJournal
from tests.tell.mill import SITE
from tests.tell.outlets import running
from tests.tell.scripted_broker import ScriptedBroker, puback
from tests.tell.subscriber import until

TOPICS = Topics("mill/cakewatch")


# ------------------------------------------------------------------ allowance
@given(st.lists(st.floats(0, 5), max_size=200), st.integers(1, 30), st.floats(0.1, 50))
def test_no_more_are_allowed_than_a_burst_and_so_many_a_second(gaps_s, burst, per_s):
    allowance, now_s, allowed = Allowance(burst, per_s), 100.0, 0
    for gap_s in gaps_s:
        now_s += gap_s
        allowed += allowance.take(now_s)

    assert allowed <= burst + per_s * sum(gaps_s) + 1e-6


def test_who_waits_long_enough_has_a_whole_burst_again():
    allowance = Allowance(3, 2.0)
    assert [allowance.take(0.0) for _ in range(4)] == [True, True, True, False]
    assert allowance.take(0.5)
    assert [allowance.take(1000.0) for _ in range(4)] == [True, True, True, False]


def test_a_clock_that_goes_back_gives_nothing_away():
    allowance = Allowance(1, 1.0)
    assert [allowance.take(now_s) for now_s in (100.0, 50.0, 50.9, 51.0)] == [True, False, False, True]


# ------------------------------------------------------------------ receipts
@given(st.permutations(range(8)))
def test_receipts_go_out_in_the_order_of_arrival_whoever_is_done_first(finished):
    acknowledged: list[int] = []
    receipts = Receipts(lambda message_id, qos: acknowledged.append(message_id))
    given_out = [receipts.receipt(number, 1) for number in range(8)]
    for place, number in enumerate(finished, start=1):
        given_out[number]()
        given_out[number]()
        done = set(finished[:place])
        assert acknowledged == [one for one in range(8) if set(range(one + 1)) <= done]


def test_at_qos_0_nothing_is_acknowledged():
    acknowledged: list[int] = []
    Receipts(lambda message_id, qos: acknowledged.append(message_id)).receipt(0, 0)()
    assert acknowledged == []


# ------------------------------------------------------------------ outbox
def reply(number: int = 0, given_s: float = 0.0) -> Reply:
    return Reply(topic="t", payload=str(number).encode(), code="done", given_s=given_s)


def test_the_outbox_is_bounded_and_gives_the_oldest_up():
    outbox = Outbox()
    for number in range(MOST_WAITING + 10):
        outbox.add(reply(number))

    assert len(outbox) == MOST_WAITING
    assert outbox.given_up == 10
    assert outbox.take(0.0) == reply(10)


def test_only_so_many_answers_are_under_way_and_an_old_one_is_offered_to_nobody():
    outbox = Outbox()
    for number in range(MOST_IN_FLIGHT + 1):
        outbox.add(reply(number))
    for number in range(MOST_IN_FLIGHT):
        outbox.offered(number + 1, outbox.take(0.0))

    assert outbox.take(0.0) is None
    assert outbox.settle(1) is not None
    assert outbox.settle(1) is None
    assert outbox.take(LONGEST_WAIT_S + 1) is None
    assert len(outbox) == 0


def test_an_unconfirmed_answer_is_offered_once_more_after_a_lost_connection_and_then_no_more():
    outbox = Outbox()
    outbox.add(reply(1))
    outbox.add(reply(2))
    outbox.offered(7, outbox.take(0.0))
    outbox.connection_ended()

    again = outbox.take(0.0)
    assert again.payload == b"1"
    outbox.offered(8, again)
    outbox.connection_ended()
    assert (outbox.take(0.0).payload, outbox.take(0.0), outbox.given_up) == (b"2", None, 1)


# ------------------------------------------------------------------ where the answer goes
@given(st.one_of(st.none(), st.text(), st.from_regex(r"mill/cakewatch(/[a-z$+#/]*)?", fullmatch=True)))
def test_an_answer_never_goes_where_we_publish_or_listen_or_where_no_topic_is(asked):
    to = reply_to(TOPICS, asked, None)

    assert to.topic == TOPICS.answers or to.topic == asked
    assert not set(to.topic) & set("+#\0")
    assert not to.topic.startswith("$")
    assert 0 < len(to.topic.encode()) <= MOST_TOPIC_BYTES
    assert to.topic == TOPICS.answers or not to.topic.startswith("mill/cakewatch/") or "/answers/" in to.topic
    assert bool(to.fault) == (asked is not None and to.topic != asked)


def test_every_topic_we_publish_or_listen_on_is_kept_for_ourselves():
    ours = (
        TOPICS.availability,
        TOPICS.events,
        TOPICS.commands,
        TOPICS.state("DC-101"),
        TOPICS.alarm("DC-101", "A"),
    )

    assert all(TOPICS.keeps_for_itself(topic) for topic in ours)
    assert not TOPICS.keeps_for_itself(TOPICS.answers)
    assert not TOPICS.keeps_for_itself("mill/cakewatches")


# ------------------------------------------------------------------ the door itself
@pytest.mark.anyio
async def test_a_message_that_breaks_the_door_itself_is_counted_acknowledged_and_raises_nothing(caplog):
    door = CommandDoor(TOPICS, Rulebook().submit, time.time)
    acknowledged: list[int] = []
    door.take(Incoming(payload=None), lambda: acknowledged.append(1))  # type: ignore[arg-type]

    assert (door.received, door.refused, acknowledged) == (1, 1, [1])
    assert "could not be sorted" in caplog.text


@pytest.mark.anyio
async def test_a_door_that_closes_leaves_unanswered_commands_unacknowledged():
    rulebook = Rulebook()
    rulebook.gate.clear()
    door = CommandDoor(TOPICS, rulebook.submit, time.time)
    acknowledged: list[int] = []
    door.take(Incoming(payload=order("a1")), lambda: acknowledged.append(1))
    await asyncio.sleep(0.01)
    assert (rulebook.asked, door.is_idle) == (1, False)
    door.close()
    await asyncio.sleep(0.01)

    assert (acknowledged, len(door.outbox), door.is_idle) == ([], 0, True)


@pytest.mark.anyio
async def test_a_flood_of_refusals_is_logged_as_one_line(caplog):
    door = CommandDoor(TOPICS, Rulebook().submit, time.time)
    for _ in range(1000):
        door.take(Incoming(payload=b"garbage"), lambda: None)

    assert caplog.text.count("command refused") == 1
    assert len(door.outbox) <= MOST_WAITING
    assert door.refused == 1000


# ------------------------------------------------------------------ subscribing
class Wire:
    def __init__(self) -> None:
        self.asked: list[str] = []

    def subscribe(self, topic: str) -> int:
        self.asked.append(topic)
        return len(self.asked)


def talk() -> CommandTalk:
    desk = Desk(
        settings=MqttSettings(host="h", port=1),
        site=SITE,
        outlet="mqtt",
        topics=TOPICS,
        journal=FakeJournal(),
        window=Window(0, 1),
        board=Board(1.0),
        state_limit_bytes=1,
    )
    return CommandTalk(desk, CommandDoor(TOPICS, Rulebook().submit, time.time))


@pytest.mark.anyio
async def test_a_refused_subscription_is_asked_for_again_in_case_somebody_mended_the_rights():
    wire, ours = Wire(), talk()
    for now_s in (1.0, 2.0):
        ours._see_to_subscription(wire, now_s)
    ours.granted(1, 0x87)
    assert "access list" in ours._desk.troubles.text
    for now_s in (3.0, 1.0 + AGAIN_S, 1.1 + AGAIN_S, 1.2 + AGAIN_S):
        ours._see_to_subscription(wire, now_s)

    assert wire.asked == [TOPICS.commands] * 2
    ours.granted(2, 1)
    assert (ours.subscribed, ours._desk.troubles.text) == (True, "")
    ours._see_to_subscription(wire, 1000.0)
    assert len(wire.asked) == 2


@pytest.mark.anyio
async def test_a_subscription_that_is_never_answered_is_said_and_the_events_go_on(quick_backoff, monkeypatch):
    monkeypatch.setattr(command_talk, "_GRANT_LIMIT_S", 0.1)
    journal = FakeJournal()
    journal.add(3)
    async with ScriptedBroker(lambda number, topic, message_id: puback(message_id)) as broker:
        outlet = commanded_outlet(broker.port, Rulebook(), journal)
        async with running(outlet):
            await until(lambda: "has not answered our subscription" in outlet.figures().last_error)
            await until(lambda: journal.cursor("mqtt") == 3)
            assert not outlet.figures().commands_subscribed


# ------------------------------------------------------------------ packets that break the rules
@given(st.integers(0, 255), st.binary(max_size=60))
def test_any_packet_has_an_identity_or_none(first_byte, packet):
    message_id, qos = identity(first_byte, packet)

    assert 0 <= message_id <= 0xFFFF
    assert 0 <= qos <= 3


@pytest.mark.parametrize("qos", [0, 1])
@given(
    pairs=st.lists(st.tuples(st.text(st.characters(codec="ascii")), st.text("ab")), max_size=40), topic=st.text()
)
def test_the_length_of_properties_is_read_as_the_library_writes_it(qos, pairs, topic):
    properties = Properties(PacketTypes.PUBLISH)
    for pair in pairs:
        properties.UserProperty = pair
    packed, name = properties.pack(), topic.encode()
    length_bytes = 1 if len(packed) <= 128 else 2
    packet = len(name).to_bytes(2) + name + (b"\0\7" if qos else b"") + packed + b"payload"

    assert property_bytes(0x30 | qos << 1, packet) == len(packed) - length_bytes


@pytest.mark.parametrize("qos", [0, 1])
@pytest.mark.parametrize("version", [MQTTProtocolVersion.MQTTv5, MQTTProtocolVersion.MQTTv311])
@given(data=st.binary(max_size=60))
def test_whatever_is_in_a_packet_reading_it_raises_nothing(version, qos, data):
    client = LenientClient(CallbackAPIVersion.VERSION2, "x", protocol=version, manual_ack=True)
    came: list[object] = []
    client.on_garbled = lambda message_id, qos: came.append(message_id)
    client.has_properties = version == MQTTProtocolVersion.MQTTv5
    client.on_message = lambda _client, _data, message: came.append(message.payload)
    client._in_packet["command"] = 0x30 | qos << 1
    client._in_packet["packet"] = bytearray(data)

    client._handle_publish()
    assert len(came) == 1


def publish(properties: bytes, message_id: int) -> bytes:
    topic = b"cakewatch/commands"
    body = len(topic).to_bytes(2) + topic + message_id.to_bytes(2) + properties
    return bytes([0x32, len(body)]) + body


@pytest.mark.anyio
@pytest.mark.parametrize(
    "properties",
    [
        pytest.param(b"\x05\x26\x00\x09a", id="a property longer than the packet"),
        pytest.param(b"\x02\x7f\x00", id="a property that does not exist"),
        pytest.param(b"\xff\xff\xff\xff\xff", id="a length without end"),
        pytest.param(b"", id="no properties at all"),
    ],
)
async def test_a_broken_packet_from_the_broker_costs_nothing_but_itself(quick_backoff, properties):
    journal = FakeJournal()
    journal.add(3)

    def answer(number, topic, message_id):
        broken = publish(properties, 9) if number == 1 else b""
        return broken + puback(message_id)

    async with ScriptedBroker(answer) as broker:
        outlet = commanded_outlet(broker.port, Rulebook(), journal)
        async with running(outlet):
            await until(lambda: outlet.figures().commands_received == 1)
            await until(lambda: journal.cursor("mqtt") == 3)
            assert (broker.connections, outlet.figures().commands_refused) == (1, 1)
