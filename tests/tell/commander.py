"""A sender of commands: paho in a client of its own, beside a rulebook of a few lines that remembers ids."""

import asyncio
import json
import time
from dataclasses import dataclass, field, replace

import paho.mqtt.client as paho
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from monitor.clock import Clock
from monitor.tell.mqtt.outlet import MqttOutlet
from monitor.tell.notation import rfc3339
from monitor.tell.settings import MqttSettings
from monitor.words import AlarmState, Answer, AnswerCode, Command
from tests.tell.journal import FakeJournal
from tests.tell.mill import SITE

COMMANDS, ANSWERS = "cakewatch/commands", "cakewatch/answers"


class Rulebook:
    """Does what it is told, each id once; may be told to take its time, to hang or to fail."""

    def __init__(self) -> None:
        self.done: list[Command] = []
        self.asked = 0
        self.takes_s = 0.0
        self.fails = False
        self.gate = asyncio.Event()
        self.gate.set()
        self._answered: dict[str, Answer] = {}

    async def submit(self, command: Command) -> Answer:
        self.asked += 1
        if self.fails:
            raise RuntimeError("a fault of ours")
        if command.command_id in self._answered:
            return replace(self._answered[command.command_id], repeated=True)
        self.done.append(command)
        text = f"{command.tag} was acknowledged by {command.by}."
        answer = Answer(
            command_id=command.command_id,
            code=AnswerCode.DONE,
            text=text,
            at_utc_s=time.time(),
            tag=command.tag,
            state=AlarmState.ACKNOWLEDGED,
        )
        self._answered[command.command_id] = answer
        await self.gate.wait()
        await asyncio.sleep(self.takes_s)
        return answer


def commanded_outlet(port: int, rulebook: Rulebook, journal: FakeJournal | None = None, **changes) -> MqttOutlet:
    fields = {"host": "127.0.0.1", "port": port, "state_period_s": 0.1, "commands": True} | changes
    return MqttOutlet(
        MqttSettings(**fields),
        SITE,
        journal or FakeJournal(),
        Clock(),
        instance_id="store-1",
        submit=rulebook.submit,
    )


def order(command_id: str = "a1", **changes) -> bytes:
    """A command as its JSON; a key changed to None is left out."""
    fields = {
        "command_id": command_id,
        "command": "acknowledge",
        "tag": "PDAH-101",
        "by": "anna",
        "sent_at": rfc3339(time.time()),
    } | changes
    return json.dumps({key: value for key, value in fields.items() if value is not None}).encode()


@dataclass
class Heard:
    topic: str
    payload: bytes
    qos: int
    retained: bool
    correlation: bytes | None = None
    user: dict[str, str] = field(default_factory=dict)

    @property
    def json(self):
        return json.loads(self.payload)

    @property
    def code(self) -> str:
        return self.json["code"]


class Commander:
    """Sends commands and hears everything on the topics of answers."""

    def __init__(self, port: int, *topics: str, version: int = 5, name: str = "panel", **login) -> None:
        self.heard: list[Heard] = []
        self.subscribed = 0
        protocol = paho.MQTTv5 if version == 5 else paho.MQTTv311
        self.client = paho.Client(paho.CallbackAPIVersion.VERSION2, name, protocol=protocol)
        self.client.reconnect_delay_set(1, 1)
        if login:
            self.client.username_pw_set(login["username"], login["password"])
        self._topics = topics or (ANSWERS,)
        self.client.on_connect = self._on_connect
        self.client.on_subscribe = self._on_subscribe
        self.client.on_message = self._on_message
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        deadline = time.monotonic() + 5
        while self.subscribed < len(self._topics):
            assert time.monotonic() < deadline, "the sender does not subscribe"
            time.sleep(0.01)

    def send(
        self,
        payload: bytes,
        *,
        retain: bool = False,
        qos: int = 1,
        response_topic: str | None = None,
        correlation: bytes | None = None,
        user: tuple[str, str] | None = None,
    ) -> None:
        properties = None
        if response_topic is not None or correlation is not None or user is not None:
            properties = Properties(PacketTypes.PUBLISH)
            if response_topic is not None:
                properties.ResponseTopic = response_topic
            if correlation is not None:
                properties.CorrelationData = correlation
            if user is not None:
                properties.UserProperty = user
        self.client.publish(COMMANDS, payload, qos=qos, retain=retain, properties=properties)

    def codes(self, topic: str = ANSWERS) -> list[str]:
        return [one.code for one in self.heard if one.topic == topic]

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()

    def __enter__(self) -> "Commander":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _on_connect(self, client, _data, _flags, _code, _properties) -> None:
        for topic in self._topics:
            client.subscribe(topic, qos=1)

    def _on_subscribe(self, *_: object) -> None:
        self.subscribed += 1

    def _on_message(self, _client, _data, message) -> None:
        properties = message.properties
        self.heard.append(
            Heard(
                message.topic,
                bytes(message.payload),
                message.qos,
                bool(message.retain),
                getattr(properties, "CorrelationData", None),
                dict(getattr(properties, "UserProperty", [])),
            )
        )
