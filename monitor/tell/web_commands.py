"""Web commands: what the HTTP address and the control socket do with one command, whoever serves them.

Each refusal has the form of an answer, so that whoever sent a command reads the same thing everywhere. Nothing is
judged here: what can be read is submitted, and the one rulebook answers.
"""

import asyncio
import logging
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from dataclasses import dataclass, field

from monitor.tell.command_fields import MOST_BYTES
from monitor.tell.command_form import Origin, read_command, write_answer
from monitor.tell.command_rate import Bucket
from monitor.tell.web_body import Unfit, read_body
from monitor.words import Answer, AnswerCode, Command

log = logging.getLogger(__name__)

#: Carries a command out and says what became of it, once the journal has it. May be cancelled while it waits.
Submit = Callable[[Command], Awaitable[Answer]]

#: So many commands at once, and so many a second over a longer time, through one door (our choice).
BURST = 20
A_SECOND = 5.0
#: What the journal has not taken within this is answered ``not_written``, seconds (our choice).
SUBMIT_LIMIT_S = 10.0

STATUS: Mapping[AnswerCode, int] = {
    AnswerCode.DONE: 200,
    AnswerCode.MALFORMED: 400,
    AnswerCode.LATE: 422,
    AnswerCode.CLOCKS_DIFFER: 422,
    AnswerCode.RETAINED: 400,
    AnswerCode.ID_REUSED: 409,
    AnswerCode.UNKNOWN_ALARM: 404,
    AnswerCode.UNKNOWN_PERSON: 403,
    AnswerCode.NOT_ALLOWED: 403,
    AnswerCode.REASON_MISSING: 422,
    AnswerCode.END_MISSING: 422,
    AnswerCode.TOO_LONG: 422,
    AnswerCode.STILL_ACTIVE: 409,
    AnswerCode.NOT_IN_THAT_STATE: 409,
    AnswerCode.UNKNOWN_COLLECTOR: 404,
    AnswerCode.TIME_UNFIT: 422,
    AnswerCode.NOBODY_CALLED: 404,
    AnswerCode.TOO_MANY: 429,
    AnswerCode.NOT_WRITTEN: 503,
}

_UNWRITTEN = (
    f"the journal has not confirmed it within {SUBMIT_LIMIT_S:g} s, and it may still be carried out; "
    "send it again under the same id to learn what became of it"
)
_FAULT = "cakewatch met a fault of its own, which its log names; look how the alarm stands before you repeat it"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """What goes back over HTTP.

    Attributes:
        headers: beside the content's.
    """

    status: int
    body: bytes
    headers: Mapping[str, str] = field(default_factory=dict)


def reply(answer: Answer, status: int | None = None, headers: Mapping[str, str] | None = None) -> Reply:
    """The answer, under the status of its code where no other is given."""
    return Reply(
        status=status or STATUS[answer.code],
        body=write_answer(answer),
        headers=headers or {},
    )


def refusal(
    code: AnswerCode,
    text: str,
    now_utc_s: float,
    status: int | None = None,
    headers: Mapping[str, str] | None = None,
) -> Reply:
    """The answer to a request whose command was not read.

    It goes out at once, while the rest of the request may still be coming. The connection stays open for that
    rest: whoever is cut off in the middle of sending never reads why.
    """
    return reply(Answer(command_id="", code=code, text=text, at_utc_s=now_utc_s), status, headers)


class CommandDoor:
    """Takes the commands of one door.

    Args:
        submit: the way to the rulebook.
        utc_s: this moment, Unix seconds.
        now_s: seconds of a clock that never steps back.
    """

    def __init__(self, submit: Submit, utc_s: Callable[[], float], now_s: Callable[[], float]) -> None:
        self._submit = submit
        self._utc_s = utc_s
        self._now_s = now_s
        self._bucket = Bucket.full(BURST, A_SECOND, now_s())

    async def take(self, origin: Origin, pieces: AsyncIterator[bytes], announced_bytes: int | None) -> Reply:
        """One command, from its bytes to its answer.

        Args:
            origin: who sends it; the right to send commands at all was judged before.
            pieces: the body as it comes.
            announced_bytes: its size as the sender says; None where that is not said.
        """
        left = self._bucket.take(self._now_s())
        if left is None:
            return self._too_many()
        self._bucket = left
        body = await read_body(pieces, announced_bytes, MOST_BYTES, "a command")
        if isinstance(body, Unfit):
            return refusal(AnswerCode.MALFORMED, body.text, self._utc_s(), body.status, body.headers)
        command = read_command(body, origin, self._utc_s())
        return reply(command if isinstance(command, Answer) else await self.carry_out(command))

    async def carry_out(self, command: Command) -> Answer:
        """What became of this command; answered in time whatever the journal does."""
        try:
            async with asyncio.timeout(SUBMIT_LIMIT_S):
                return await self._submit(command)
        except TimeoutError:
            log.error("command not confirmed in time id=%s kind=%s", command.command_id, command.kind.value)
            return self._unwritten(command, _UNWRITTEN)
        except Exception:  # the sender must hear that nothing is certain; the log has the fault
            log.exception("command not answered id=%s kind=%s", command.command_id, command.kind.value)
            return self._unwritten(command, _FAULT)

    def _too_many(self) -> Reply:
        text = f"too many commands: {BURST} at once and {A_SECOND:g} a second at most; send it again in a second"
        return refusal(AnswerCode.TOO_MANY, text, self._utc_s(), headers={"Retry-After": "1"})

    def _unwritten(self, command: Command, text: str) -> Answer:
        return Answer(
            command_id=command.command_id,
            code=AnswerCode.NOT_WRITTEN,
            text=text,
            at_utc_s=self._utc_s(),
            tag=command.tag,
        )
