"""States: the retained messages go out as they fall due, never faster than the broker takes them."""

import asyncio

from monitor.clock import real_s
from monitor.tell.mqtt import faults
from monitor.tell.mqtt.board import Message
from monitor.tell.mqtt.connection import Connection
from monitor.tell.mqtt.desk import Desk, stirred
from monitor.tell.mqtt.troubles import Subject
from monitor.tell.mqtt.verdict import Verdict, verdict_of

#: Small bundles this far apart, so that a thousand collectors cost little and never hold up an event for long.
_BUNDLE = 50
_BUNDLE_S = 0.01
_CONGESTED_S = 0.1

#: Retained messages at QoS 1 that may be unconfirmed before the next bundle goes out.
_IN_FLIGHT = 10

_HEADER_BYTES = 32


class StateTeller:
    """Tells retained state over one connection.

    Attributes:
        largest_bytes: the largest payload that went out over it.
    """

    def __init__(self, desk: Desk, link: Connection) -> None:
        self._desk = desk
        self._link = link
        self._sent: dict[int, tuple[str, float]] = {}
        self.largest_bytes = 0

    def publish(self, message: Message) -> int:
        """Hand in one retained message; returns its message id."""
        message_id = self._link.publish(message.topic, message.payload, confirmed=message.confirmed, retain=True)
        self._desk.tally.published += 1
        if message.confirmed:
            self._sent[message_id] = (message.topic, real_s())
        return message_id

    def is_waiting_for(self, message_id: int) -> bool:
        """Whether this message is not answered yet."""
        return message_id in self._sent

    async def run(self) -> None:
        """Publish everything anew, then whatever falls due, for ever."""
        board = self._desk.board
        board.again(real_s())
        while True:
            if self._link.is_congested:
                await asyncio.sleep(_CONGESTED_S)
                continue
            if len(self._sent) < _IN_FLIGHT:
                self._publish_due()
            await asyncio.sleep(_BUNDLE_S)
            await stirred(self._desk.states_stir, min(1.0, max(0.0, board.next_s() - real_s())))

    def answered(self, message_id: int, code: int) -> bool:
        """Take in the broker's answer; False when it is not about a retained message."""
        topic, _ = self._sent.pop(message_id, (None, 0.0))
        if topic is None:
            return False
        if verdict_of(code) is Verdict.CONFIRMED:
            self._confirmed(topic)
        else:
            self._refused(topic, code)
        return True

    def oldest_s(self, now_s: float) -> float:
        """How long the oldest unanswered retained message has been waiting; 0 when there is none."""
        return max((now_s - at_s for _, at_s in self._sent.values()), default=0.0)

    def _publish_due(self) -> None:
        for message in self._desk.board.take(real_s(), _BUNDLE):
            if len(message.payload) > self._limit_bytes(message.topic):
                self._withhold(message)
            else:
                self.largest_bytes = max(self.largest_bytes, len(message.payload))
                self.publish(message)

    def _limit_bytes(self, topic: str) -> int:
        packet = self._link.max_packet_bytes
        limit = self._desk.state_limit_bytes
        return limit if packet is None else min(limit, packet - len(topic.encode()) - _HEADER_BYTES)

    def _withhold(self, message: Message) -> None:
        desk = self._desk
        desk.tally.withheld += 1
        if not desk.troubles.has(Subject.SIZE):
            limit = self._limit_bytes(message.topic)
            size = len(message.payload)
            desk.troubles.say(
                Subject.SIZE, f"state of {size} bytes for {message.topic} is withheld: {limit} bytes are allowed"
            )

    def _confirmed(self, topic: str) -> None:
        desk = self._desk
        desk.board.drop(topic)
        desk.refused_topics.discard(topic)
        if not desk.refused_topics:
            desk.troubles.over(Subject.STATES)

    def _refused(self, topic: str, code: int) -> None:
        desk = self._desk
        desk.tally.refused += 1
        desk.refused_topics.add(topic)
        if not desk.troubles.has(Subject.STATES):
            desk.troubles.say(Subject.STATES, faults.message_refused(topic, code))
