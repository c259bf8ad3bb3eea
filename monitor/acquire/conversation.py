"""Conversation: one visit to one unit, from the first request to what is reported of all its points.

Here stands what each kind of failure means for the rest of the visit. An exception or a misfitting answer
costs its own block. Silence (no answer, the connection closed instead of one, or an answer after which the
next could not be trusted) sets its own request aside; where nothing was answered before it, it ends the visit
and sets the unit aside. A second silence always ends the visit. What was not read fails for the same reason,
so that no point keeps an old value.
"""

from collections.abc import Awaitable, Callable
from typing import NamedTuple

from monitor.acquire.connection import Connection
from monitor.acquire.framing import Shape
from monitor.acquire.requests import Reply, Request, request_for
from monitor.acquire.settings import LinkSettings, Protocol
from monitor.acquire.step import proof_block
from monitor.acquire.tally import Tally
from monitor.acquire.unit import Unit
from monitor.clock import Clock, real_s
from monitor.words import BlockRead, Failure, Reason

#: A proof that settles only the oldest owed answer is followed by another; this bounds a visit.
MOST_PROOFS = 4

_NO_PROOF = Failure(Reason.NO_ANSWER, "late answers are owed, and every request could be mistaken for one")

#: Called when the other side closed the connection at a request: a fresh one to go on with, or None. True: its
#: unit can show that others are answered (on RTU framings it is left alone now, so it must have done so before).
Reopen = Callable[[Request, bool], Awaitable[Connection | None]]


class Visit(NamedTuple):
    """What a visit brought.

    Attributes:
        answered: at least one well-formed answer came.
        connection: the one it ended with; not open where the other side closed it and none came after it.
    """

    reads: tuple[BlockRead, ...]
    answered: bool
    connection: Connection

    @property
    def loss(self) -> Failure | None:
        """Why the connection is gone, if a request met it."""
        failures = (read.failure for read in reversed(self.reads) if read.failure)
        return next((each for each in failures if each.reason is Reason.NO_CONNECTION), None)


async def _never(request: Request, unit_shows: bool) -> None:
    """There is no other connection."""


async def visit(
    connection: Connection,
    unit: Unit,
    link: LinkSettings,
    clock: Clock,
    tally: Tally,
    reopen: Reopen = _never,
    alone: Request | None = None,
) -> Visit:
    """Read all blocks of a unit that are not aside, in step, and keep its record of silence and owed answers.

    ``alone``: read nothing but this one, of a unit that is in step and answered others in this scan.
    """
    visiting = _Visiting(connection, unit, link, clock, tally, reopen)
    return await (visiting.read() if alone is None else visiting.read_one(alone))


class _Visiting:
    """One visit under way."""

    def __init__(
        self,
        connection: Connection,
        unit: Unit,
        link: LinkSettings,
        clock: Clock,
        tally: Tally,
        reopen: Reopen,
    ) -> None:
        self._connection = connection
        self._unit = unit
        self._link = link
        self._clock = clock
        self._tally = tally
        self._reopen = reopen
        self._answered = False
        self._silent: Failure | None = None

    async def read(self) -> Visit:
        over = await self._regain_step()
        now = self._clock.now
        reads = []
        for request in self._unit.requests:
            failure = self._unit.why_silent(request) or over or self._left_for_later(request)
            if failure is not None:
                reads.append(BlockRead(request.block, now(), (), failure))
                continue
            reply = await self._ask(request)
            reads.append(BlockRead(request.block, now(), reply.words, reply.failure))
            if reply.failure is not None:
                over = await self._ends_visit(request, reply)
        return Visit(tuple(reads), self._answered, self._connection)

    async def read_one(self, request: Request) -> Visit:
        self._answered = True  # it did, in this scan
        reply = await self._ask(request)
        read = BlockRead(request.block, self._clock.now(), reply.words, reply.failure)
        if reply.failure is not None:
            await self._ends_visit(request, reply)
        return Visit((read,), reply.answered, self._connection)

    def _left_for_later(self, request: Request) -> Failure | None:
        """One silence a visit is enough where it can be foreseen: only those who answered last time go on."""
        return self._silent if self._silent and not self._unit.silence[request.rtu].proven else None

    async def _ask(self, request: Request, owed: frozenset[Shape] = frozenset()) -> Reply:
        asked_s = real_s()
        reply = await self._connection.ask(request, self._link.timeout_s, owed)
        self._tally.count(reply, real_s() - asked_s)
        if reply.answered and not _silence(reply):
            if not self._answered:
                self._answered = True
                self._unit.answered()
            silence = self._unit.silence.get(request.rtu)
            if silence is not None:
                silence.ends()
        return reply

    async def _ends_visit(self, request: Request, reply: Reply) -> Failure | None:
        """Return the failure of everything not yet read, or None: the next block may be asked."""
        failure = reply.failure
        rtu = self._link.protocol is not Protocol.TCP
        lost_step = rtu and not reply.answered
        if lost_step:
            self._unit.step.lose(request.shape, real_s(), self._link.late_answer_s)
        elif failure is None or (self._connection.usable and not _silence(reply)):
            return None
        if failure is None:
            return None
        second, self._silent = self._silent is not None, failure
        if not self._connection.is_open:
            fresh = await self._reopen(request, self._answered or not rtu)
            if fresh is None:
                self._unit.failed(request, failure, self._clock.now().mono_s, alive=False)
                return failure
            self._connection = fresh
        self._unit.failed(request, failure, self._clock.now().mono_s, alive=self._answered)
        goes_on = self._answered and not second and not lost_step and self._connection.usable
        return None if goes_on else failure

    async def _regain_step(self) -> Failure | None:
        """Prove that no late answer can be taken for the next; return why that failed, or None."""
        step = self._unit.step
        for _ in range(MOST_PROOFS):
            if not step.lost(real_s()):
                return None
            owed = step.owed(real_s())
            block = proof_block(
                [request.block for request in self._unit.requests],
                owed,
                self._unit.forbidden,
                self._link.max_registers,
            )
            if block is None:
                self._unit.set_aside(_NO_PROOF, self._clock.now().mono_s)
                return _NO_PROOF
            proof = request_for(block)
            reply = await self._ask(proof, owed)
            if not reply.answered or _silence(reply):
                return await self._ends_visit(proof, reply)
            step.prove(proof.shape, reply.function, real_s())
        return _NO_PROOF


def _silence(reply: Reply) -> bool:
    """Whether the unit said nothing, or its gateway said so for it."""
    return reply.failure is not None and reply.failure.reason is Reason.NO_ANSWER
