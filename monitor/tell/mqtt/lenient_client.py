"""Lenient client: the library's client, which does not hang up on a message it cannot read.

Brokers pass on what the library refuses (U+FEFF in a property, for one), and it then ends the connection: anyone
who may publish a command could so silence the outlet, and for ever with a retained message. And it takes 10 ms and
more to read a thousand properties, in which nothing else moves. The library offers no public way between packet
and message, so one of its own methods is overridden; tests watch that the override still bites.
"""

import logging
from collections.abc import Callable

from paho.mqtt.client import Client
from paho.mqtt.enums import MQTTErrorCode

log = logging.getLogger(__name__)

#: Room for a response topic, correlation data and a little more (our choice).
MOST_PROPERTY_BYTES = 2048

_QOS = 0x06


class LenientClient(Client):
    """The client.

    Attributes:
        on_garbled: is told message id and QoS of a message that cannot be read; None to hang up as the library
            does.
        has_properties: whether messages carry properties: from MQTT 5 on.
    """

    on_garbled: Callable[[int, int], None] | None = None
    has_properties = False

    def _handle_publish(self) -> MQTTErrorCode:
        if self.on_garbled is None:
            return super()._handle_publish()
        first_byte, packet = self._in_packet["command"], bytes(self._in_packet["packet"])
        if not self.has_properties or property_bytes(first_byte, packet) <= MOST_PROPERTY_BYTES:
            try:
                return super()._handle_publish()
            except Exception:  # a packet from strangers may raise anything
                log.debug("mqtt message cannot be read", exc_info=True)
        self.on_garbled(*identity(first_byte, packet))
        return MQTTErrorCode.MQTT_ERR_SUCCESS


def identity(first_byte: int, packet: bytes) -> tuple[int, int]:
    """Message id and QoS of a PUBLISH packet (MQTT 5.0 §3.3); 0 and 0 where it is too short to have them."""
    qos = (first_byte & _QOS) >> 1
    begin = _after_topic(packet)
    message_id = packet[begin : begin + 2]
    return (int.from_bytes(message_id), qos) if qos and len(message_id) == 2 else (0, 0)


def property_bytes(first_byte: int, packet: bytes) -> int:
    """How long the properties of a PUBLISH packet of MQTT 5 say they are (a variable byte integer, §1.5.5)."""
    begin = _after_topic(packet) + (2 if first_byte & _QOS else 0)
    length = 0
    for place, byte in enumerate(packet[begin : begin + 4]):
        length |= (byte & 0x7F) << 7 * place
        if not byte & 0x80:
            break
    return length


def _after_topic(packet: bytes) -> int:
    return 2 + int.from_bytes(packet[:2])
