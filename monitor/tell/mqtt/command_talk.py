"""Command talk: one connection's part in commands: the subscription, what comes in, the answers that go out."""

import asyncio
import logging

from monitor.clock import real_s
from monitor.tell.mqtt import faults
from monitor.tell.mqtt.command_door import CommandDoor
from monitor.tell.mqtt.command_wire import CommandWire
from monitor.tell.mqtt.connection import Connection
from monitor.tell.mqtt.desk import Desk, stirred
from monitor.tell.mqtt.incoming import Incoming
from monitor.tell.mqtt.outbox import Reply
from monitor.tell.mqtt.receipts import Receipt
from monitor.tell.mqtt.troubles import Subject

log = logging.getLogger(__name__)

#: The answer to a subscription may take so long before it is called missing, seconds.
_GRANT_LIMIT_S = 5.0

#: A subscription that was refused is asked for again this often: somebody may have mended the broker's rights.
AGAIN_S = 30.0

#: Room for the packet's header and properties in the broker's limit.
_HEADER_BYTES = 64

_FIRST_FAILURE = 0x80


class CommandTalk:
    """Commands over one connection.

    Args:
        desk: what outlives the connection.
        door: likewise, for commands.

    Attributes:
        subscribed: the broker has granted the subscription.
    """

    def __init__(self, desk: Desk, door: CommandDoor) -> None:
        self._desk = desk
        self._door = door
        self._asked_id = 0
        self._asked_s = 0.0
        self.subscribed = False

    async def run(self, link: Connection, wire: CommandWire) -> None:
        """Subscribe, then send answers as they come, for ever."""
        while True:
            self._see_to_subscription(wire, real_s())
            self.send_answers(link, wire)
            await stirred(self._door.stir, 1.0)

    async def finish(self, link: Connection, wire: CommandWire, limit_s: float) -> None:
        """Answer those who wait, if that is done within the limit."""
        until_s = real_s() + limit_s
        while link.is_open and not self._door.is_idle and real_s() < until_s:
            self.send_answers(link, wire)
            await asyncio.sleep(0.01)

    def send_answers(self, link: Connection, wire: CommandWire) -> None:
        """Offer the answers that wait, as far as the bound allows."""
        outbox = self._door.outbox
        while link.is_open and (reply := outbox.take(real_s())) is not None:
            size = len(reply.payload) + len(reply.topic.encode()) + len(reply.correlation or b"") + _HEADER_BYTES
            if size > (link.max_packet_bytes or size):
                log.warning("mqtt answer withheld topic=%s bytes=%d", reply.topic, size)
                continue
            outbox.offered(wire.answer(reply), reply)
            self._desk.tally.published += 1

    def answered(self, message_id: int, code: int) -> bool:
        """Take in the broker's word on an answer; False when it is about something else."""
        reply = self._door.outbox.settle(message_id)
        if reply is None:
            return False
        if code >= _FIRST_FAILURE:
            self._refused(reply, code)
        elif reply.topic == self._desk.topics.answers:
            self._desk.troubles.forgive(Subject.ANSWERS)
        self._door.stir.set()
        return True

    # -------------------------------------------------------------- told by the wire
    def arrived(self, message: Incoming, receipt: Receipt) -> None:
        """A message came in."""
        self._door.take(message, receipt)

    def garbled(self, receipt: Receipt) -> None:
        """Something came in that is no message."""
        self._door.garbled(receipt)

    def granted(self, message_id: int, code: int) -> None:
        """The broker answered our subscription."""
        if message_id != self._asked_id:
            return
        self._asked_id = 0
        self.subscribed = code < _FIRST_FAILURE
        if self.subscribed:
            self._desk.troubles.forgive(Subject.COMMANDS)
            log.info("mqtt commands are taken topic=%s", self._desk.topics.commands)
        else:
            self._desk.troubles.say(
                Subject.COMMANDS, faults.subscription_refused(self._desk.topics.commands, code)
            )

    def _see_to_subscription(self, wire: CommandWire, now_s: float) -> None:
        if self.subscribed:
            return
        waited_s = now_s - self._asked_s
        if self._asked_id and waited_s > _GRANT_LIMIT_S:
            topic = self._desk.topics.commands
            self._desk.troubles.say(Subject.COMMANDS, faults.subscription_unanswered(topic))
        if self._asked_s == 0.0 or waited_s > AGAIN_S:
            self._asked_s = now_s
            self._asked_id = wire.subscribe(self._desk.topics.commands)

    def _refused(self, reply: Reply, code: int) -> None:
        desk = self._desk
        desk.tally.refused += 1
        sentence = faults.message_refused(reply.topic, code)
        if reply.topic == desk.topics.answers:
            desk.troubles.say(Subject.ANSWERS, f"{sentence}; whoever sends commands hears nothing")
        else:
            # The sender chose that topic, so it is his to mend.
            log.warning("mqtt answer refused %s", sentence)
