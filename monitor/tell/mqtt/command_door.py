"""Command door: what comes in on the command topic becomes a command and is answered, or is refused.

Here is refused only what can be no command, whoever sends it: retained messages, what cannot be read, and more
than anybody needs. Rights, lateness, repetition and what an alarm allows are judged by the one rulebook behind
``submit``. The door outlives connections, and so does an answer that is not told yet.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable

from monitor.clock import real_s
from monitor.tell import command_form
from monitor.tell.command_form import Origin
from monitor.tell.mqtt import refusals
from monitor.tell.mqtt.allowance import Allowance
from monitor.tell.mqtt.incoming import Incoming
from monitor.tell.mqtt.outbox import Outbox, Reply
from monitor.tell.mqtt.receipts import Receipt
from monitor.tell.mqtt.reply_to import ReplyTo, reply_to
from monitor.tell.topics import Topics
from monitor.words import Answer, AnswerCode, Command, Door

log = logging.getLogger(__name__)

Submit = Callable[[Command], Awaitable[Answer]]

#: Enough to acknowledge a screen full of alarms at one go; more than that for long is a machine gone wrong.
BURST = 20
PER_S = 5.0

#: Commands that the rulebook may have before it at the same time; others wait their turn, in order …
MOST_AT_ONCE = 8

#: … and so many may wait for an answer altogether. Less than a burst would refuse half of it.
MOST_AWAITING = BURST

#: "Too many" is answered at most this often, so that a flood is not answered by a flood.
_TOO_MANY_EVERY_S = 1.0

#: Refusals are logged at most this often; the figures count them all.
_LOGGED_EVERY_S = 10.0

#: Whose turn does not come within this is refused, seconds …
TURN_LIMIT_S = 5.0

#: … and whose turn has come waits no longer than this for his answer.
ANSWER_LIMIT_S = 10.0

# Nothing proves who published a message, nor when: the sender has to say both.
_ORIGIN = Origin(door=Door.MQTT, must_be_stamped=True)


class CommandDoor:
    """The door of one outlet.

    Args:
        topics: of the outlet.
        submit: hands a command to the rulebook; its answer comes once the journal has what followed.
        utc_s: the wall clock, for stamps.

    Attributes:
        received: messages on the command topic.
        refused: those of them that did not end in ``done``, whoever refused them.
        stir: set when an answer waits.
    """

    def __init__(self, topics: Topics, submit: Submit, utc_s: Callable[[], float]) -> None:
        self._topics = topics
        self._submit = submit
        self._utc_s = utc_s
        self._allowance = Allowance(BURST, PER_S)
        self._awaiting: set[asyncio.Task[None]] = set()
        self._turns = asyncio.Semaphore(MOST_AT_ONCE)
        self._too_many_told_s = self._logged_s = -_LOGGED_EVERY_S
        self.outbox = Outbox()
        self.stir = asyncio.Event()
        self.received = 0
        self.refused = 0

    @property
    def is_idle(self) -> bool:
        """Whether every command was answered, and every answer offered to the broker."""
        return not self._awaiting and not self.outbox.waiting

    def take(self, message: Incoming, receipt: Receipt) -> None:
        """A message came in; ``receipt`` is called once it is answered or refused. Raises nothing."""
        self.received += 1
        try:
            self._sort(message, receipt)
        except Exception:  # whatever a stranger sends must not end the connection
            log.exception("mqtt command could not be sorted")
            self.refused += 1
            receipt()

    def garbled(self, receipt: Receipt) -> None:
        """A message came in that cannot even be taken apart; nobody can be answered."""
        self.received += 1
        self._count_refusal("garbled", "a message on the command topic cannot be read, or has too many properties")
        receipt()

    def close(self) -> None:
        """Wait for no answer any more. Who waits hears nothing, and may ask again under the same command id."""
        for task in self._awaiting:
            task.cancel()

    def _sort(self, message: Incoming, receipt: Receipt) -> None:
        if not message.payload and message.retained:
            # Somebody removes a retained command, as its refusal told him to.
            receipt()
            return
        now_s = real_s()
        to = reply_to(self._topics, message.response_topic, message.correlation)
        if not self._allowance.take(now_s) or len(self._awaiting) >= MOST_AWAITING:
            self._too_many(message, to, now_s)
            receipt()
            return
        found = self._read(message, to)
        if isinstance(found, Answer):
            self._answer(found, to)
            receipt()
        else:
            task = asyncio.ensure_future(self._carry_out(found, to, receipt))
            self._awaiting.add(task)
            task.add_done_callback(self._awaiting.discard)

    def _read(self, message: Incoming, to: ReplyTo) -> Command | Answer:
        """The command, or why it is refused here."""
        now_utc_s = self._utc_s()
        found = command_form.read_command(message.payload, _ORIGIN, now_utc_s)
        if message.retained:
            return refusals.retained(found, now_utc_s, self._topics.commands)
        if to.fault:
            return refusals.wrong_place(found, now_utc_s, to.fault)
        return found

    def _too_many(self, message: Incoming, to: ReplyTo, now_s: float) -> None:
        if now_s - self._too_many_told_s < _TOO_MANY_EVERY_S:
            self._count_refusal(AnswerCode.TOO_MANY.value, "too many commands at once")
            return
        self._too_many_told_s = now_s
        now_utc_s = self._utc_s()
        found = command_form.read_command(message.payload, _ORIGIN, now_utc_s)
        self._answer(refusals.too_many(found, now_utc_s), to)

    async def _carry_out(self, command: Command, to: ReplyTo, receipt: Receipt) -> None:
        self._answer(await self._answer_of_the_rulebook(command), to)
        receipt()

    async def _answer_of_the_rulebook(self, command: Command) -> Answer:
        try:
            async with asyncio.timeout(TURN_LIMIT_S):
                await self._turns.acquire()
        except TimeoutError:
            return refusals.too_many(command, self._utc_s())
        try:
            async with asyncio.timeout(ANSWER_LIMIT_S):
                return await self._submit(command)
        except TimeoutError:
            return refusals.not_answered(command, self._utc_s(), ANSWER_LIMIT_S)
        except Exception:  # a fault of ours must not leave the sender without an answer
            log.exception("mqtt command failed command_id=%s", command.command_id)
            return refusals.our_fault(command, self._utc_s())
        finally:
            self._turns.release()

    def _answer(self, answer: Answer, to: ReplyTo) -> None:
        if not answer.code.is_done:
            self._count_refusal(answer.code.value, answer.text)
        payload = command_form.write_answer(answer)
        self.outbox.add(
            Reply(
                topic=to.topic,
                payload=payload,
                code=answer.code.value,
                given_s=real_s(),
                correlation=to.correlation,
            )
        )
        self.stir.set()

    def _count_refusal(self, code: str, text: str) -> None:
        self.refused += 1
        now_s = real_s()
        if now_s - self._logged_s >= _LOGGED_EVERY_S:
            self._logged_s = now_s
            log.warning("mqtt command refused code=%s refused_so_far=%d text=%s", code, self.refused, text)
