"""Answering: a command goes to the judge, and its answer comes back once the journal has what was done."""

import asyncio
from collections import deque
from collections.abc import Callable
from dataclasses import replace

from monitor.scan.settings import CommandRules
from monitor.tell.wording_answers import answer_sentence
from monitor.words import Answer, Command


class Answering:
    """Commands under way.

    Args:
        put: hands a command to the judge.
        rules: who may do what, as the site file says now; some refusals name its limits.
    """

    def __init__(self, put: Callable[[Command], None], rules: Callable[[], CommandRules]) -> None:
        self._put = put
        self._rules = rules
        # The judge answers in the order in which it was asked, so those of one id stand in line.
        self._asked: dict[str, deque[tuple[Command, asyncio.Future[Answer]]]] = {}
        self._ready: deque[tuple[int, asyncio.Future[Answer], Answer]] = deque()
        self._committed = 0

    async def submit(self, command: Command) -> Answer:
        """Have a command judged; returns when what it did is in the journal."""
        promise: asyncio.Future[Answer] = asyncio.get_running_loop().create_future()
        self._asked.setdefault(command.command_id, deque()).append((command, promise))
        self._put(command)
        return await promise

    def answered(self, answer: Answer, seq: int) -> None:
        """The judge has answered; it may be told when the journal has every event up to ``seq``."""
        line = self._asked.get(answer.command_id)
        if not line:
            return
        command, promise = line.popleft()
        if not line:
            del self._asked[answer.command_id]
        text = answer_sentence(command, answer.code, answer.state, self._rules())
        self._ready.append((seq, promise, replace(answer, text=text)))
        self.committed(self._committed)

    def committed(self, seq: int) -> None:
        """The journal has everything up to ``seq``."""
        self._committed = max(self._committed, seq)
        while self._ready and self._ready[0][0] <= self._committed:
            _, promise, answer = self._ready.popleft()
            if not promise.done():  # whoever asked may have gone
                promise.set_result(answer)
