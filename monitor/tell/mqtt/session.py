"""Session: one connection's conversation with the broker: birth, retained state, events in order.

Birth comes first and is answered before anything else goes out. Then, if the connection before ended in doubt, the
oldest event goes out alone. Then everything retained is published anew, because a broker without persistence has
forgotten it, and the events follow beside it.
"""

import asyncio
import contextlib
from collections.abc import Coroutine
from typing import NoReturn

from monitor.clock import real_s
from monitor.tell.mqtt import faults
from monitor.tell.mqtt.answers import Answers
from monitor.tell.mqtt.board import Message
from monitor.tell.mqtt.command_talk import CommandTalk
from monitor.tell.mqtt.connection import CONNECT_LIMIT_S, Connection
from monitor.tell.mqtt.desk import Desk, stirred
from monitor.tell.mqtt.events import HOLD_ANEW_S, EventTeller
from monitor.tell.mqtt.states import StateTeller
from monitor.tell.mqtt.suspicion import Ending


class Session:
    """One conversation.

    Args:
        desk: what outlives it.
        link: an open connection.
        answers: where that connection notes what the broker answers.
        commands: the connection's part in commands; None where none are taken.

    Attributes:
        born: set once the broker has answered the birth message.
    """

    def __init__(
        self, desk: Desk, link: Connection, answers: Answers, commands: CommandTalk | None = None
    ) -> None:
        self._desk = desk
        self._link = link
        self._answers = answers
        self._commands = commands
        self._events = EventTeller(desk, link)
        self._states = StateTeller(desk, link)
        self.born = asyncio.Event()
        self._sorted = asyncio.Event()
        self._begun_s: float | None = None

    async def hold(self, birth: Message) -> None:
        """Talk until the connection is lost.

        Raises:
            ConnectionLostError: always, in the end.
        """
        try:
            await until_one_ends(self._talk(birth), self._sort_answers(), self._wait_for_the_end())
        finally:
            with contextlib.suppress(faults.ConnectionLostError):
                self._sort()

    def stood_s(self, now_s: float) -> float:
        """How long it has lasted since the birth was answered; 0 if it never was."""
        return 0.0 if self._begun_s is None else now_s - self._begun_s

    def ending(self, now_s: float, code: int | None) -> Ending:
        """How the conversation ended; asked before the window is rewound."""
        window = self._desk.window
        return Ending(
            stood_s=self.stood_s(now_s),
            code=code,
            lone_event=window.head if window.careful and window.in_flight == 1 else None,
            lone_s=window.oldest_s(now_s),
            largest_state_bytes=self._states.largest_bytes,
        )

    async def _talk(self, birth: Message) -> None:
        await self._be_born(birth)
        # Whoever mended the broker's rights may have restarted it. Not at once, though: some brokers hang up after
        # each refusal, and the retained state must have its turn.
        self._desk.held_until_s = min(self._desk.held_until_s, real_s() + HOLD_ANEW_S)
        if self._desk.window.careful:
            await self._events.prove_head()
        steps = [self._events.run(), self._states.run()]
        if self._commands is not None and self._link.commands is not None:
            steps.append(self._commands.run(self._link, self._link.commands))
        await until_one_ends(*steps)

    async def _be_born(self, birth: Message) -> None:
        message_id = self._states.publish(birth)
        try:
            async with asyncio.timeout(CONNECT_LIMIT_S):
                while self._states.is_waiting_for(message_id):
                    await stirred(self._sorted, CONNECT_LIMIT_S)
        except TimeoutError:
            raise faults.silent(self._desk.settings, CONNECT_LIMIT_S) from None
        self._begun_s = real_s()
        self.born.set()

    async def _sort_answers(self) -> NoReturn:
        while True:
            await stirred(self._answers.came, 1.0)
            self._sort()
            self._sorted.set()
            self._watch(real_s())

    def _sort(self) -> None:
        for message_id, code in self._answers.drain():
            self._sort_one(message_id, code)
            self._desk.events_stir.set()

    def _sort_one(self, message_id: int, code: int) -> None:
        if self._states.answered(message_id, code):
            return
        if self._commands is not None and self._commands.answered(message_id, code):
            return
        self._events.answered(message_id, code)

    def _watch(self, now_s: float) -> None:
        """A broker that confirms nothing for a whole keepalive hangs, however well the connection stands."""
        waiting_s = max(self._desk.window.oldest_s(now_s), self._states.oldest_s(now_s))
        if waiting_s > self._desk.settings.keepalive_s:
            raise faults.silent(self._desk.settings, self._desk.settings.keepalive_s)

    async def _wait_for_the_end(self) -> NoReturn:
        raise await asyncio.shield(self._link.lost)


async def until_one_ends(*steps: Coroutine[None, None, None]) -> None:
    """Run them side by side until one ends or raises; end the others, and raise what it raised."""
    tasks = [asyncio.ensure_future(step) for step in steps]
    try:
        done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        for task in done:
            task.result()
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
