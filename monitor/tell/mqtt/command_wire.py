"""Command wire: how commands and their answers travel over one connection; all that the library must know of them.

The session is begun clean and ends with the connection, on purpose. A broker that kept it would hand over commands
that were sent while nobody watched, all of them late; and it would keep the subscription alive after the site file
has switched commands off. What holds instead: a command is acknowledged to the broker only once it is answered, so
whoever sent it either has an answer or may ask again under the same command id.
"""

import asyncio
from typing import Any, Protocol

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from monitor.tell.mqtt.incoming import Incoming
from monitor.tell.mqtt.lenient_client import LenientClient
from monitor.tell.mqtt.outbox import Reply
from monitor.tell.mqtt.receipts import Receipt, Receipts

#: The broker hands over no larger packet (MQTT 5.0 §3.1.2.11.4). Twice the largest command, so that most that are
#: too large are answered.
MOST_PACKET_BYTES = 8192

#: The broker is asked to hold back what comes beyond so many unanswered commands (MQTT 5.0 §3.1.2.11.3). Nothing
#: leans on it: mosquitto 2.0.11 keeps to it only until the first is answered.
MOST_UNANSWERED = 20


class Receiver(Protocol):
    """Who is told what came; on the loop, never from inside the library."""

    def arrived(self, message: Incoming, receipt: Receipt) -> None:
        """A message came in."""

    def garbled(self, receipt: Receipt) -> None:
        """Something came in that is no message of MQTT."""

    def granted(self, message_id: int, code: int) -> None:
        """The broker answered a subscription, with a reason code of MQTT 5.0."""


class CommandWire:
    """The commands of one connection.

    Args:
        client: the library's client, not yet connected.
        version: 5 or 3.
        receiver: is told what came.
    """

    def __init__(self, client: LenientClient, version: int, receiver: Receiver) -> None:
        self._client = client
        self._version = version
        self._receiver = receiver
        self._loop = asyncio.get_running_loop()
        self._receipts = Receipts(self._acknowledge)
        client.manual_ack_set(True)
        client.on_message = self._on_message
        client.on_subscribe = self._on_subscribe
        client.on_garbled = self._on_garbled
        client.has_properties = version == 5

    def subscribe(self, topic: str) -> int:
        """Ask for the messages of a topic at QoS 1; returns the message id, 0 where there is no connection."""
        if self._version == 5:
            # With "retain as published" a retained command is known for one the first time it comes already.
            options = SubscribeOptions(qos=1, noLocal=True, retainAsPublished=True)
            _, message_id = self._client.subscribe(topic, options=options)
        else:
            _, message_id = self._client.subscribe(topic, qos=1)
        return message_id or 0

    def answer(self, reply: Reply) -> int:
        """Hand one answer in, at QoS 1 and not retained; returns its message id."""
        properties = None
        if self._version == 5:
            properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]  # the library gives it none
            properties.UserProperty = ("code", reply.code)
            if reply.correlation is not None:
                properties.CorrelationData = reply.correlation
        return self._client.publish(reply.topic, reply.payload, qos=1, retain=False, properties=properties).mid

    def _acknowledge(self, message_id: int, qos: int) -> None:
        if self._client.is_connected():
            self._client.ack(message_id, qos)

    # -------------------------------------------------------------- callbacks of the library, on the loop
    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        properties = message.properties
        correlation = getattr(properties, "CorrelationData", None)
        incoming = Incoming(
            payload=bytes(message.payload),
            retained=bool(message.retain),
            response_topic=getattr(properties, "ResponseTopic", None),
            correlation=None if correlation is None else bytes(correlation),
        )
        receipt = self._receipts.receipt(message.mid, message.qos)
        self._loop.call_soon(self._receiver.arrived, incoming, receipt)

    def _on_garbled(self, message_id: int, qos: int) -> None:
        self._loop.call_soon(self._receiver.garbled, self._receipts.receipt(message_id, qos))

    def _on_subscribe(
        self, _client: Client, _data: Any, message_id: int, codes: list[ReasonCode], _extra: Any
    ) -> None:
        code = codes[0].value if codes else 0x80
        self._loop.call_soon(self._receiver.granted, message_id, code)


def connect_properties(version: int) -> Properties | None:
    """What the broker is told of our limits when we connect; MQTT 3.1.1 has no words for it."""
    if version != 5:
        return None
    properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]  # the library gives it none
    properties.MaximumPacketSize = MOST_PACKET_BYTES
    properties.ReceiveMaximum = MOST_UNANSWERED
    return properties
