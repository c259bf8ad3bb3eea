"""Conversation: one visit to one unit, from the first request to what is reported of all its points.

Here stands what each kind of failure means for the rest of the visit: an exception or a misfitting answer
costs its own block; silence, or anything after which the next answer could not be trusted, ends the visit,
and everything not yet read fails for the same reason, so that no point keeps an old value.
"""

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


class Visit(NamedTuple):
    """What a visit brought. ``answered``: at least one well-formed answer came."""

    reads: tuple[BlockRead, ...]
    answered: bool


async def visit(connection: Connection, unit: Unit, link: LinkSettings, clock: Clock, tally: Tally) -> Visit:
    """Read all blocks of a unit, in step, and keep its record of silence and owed answers."""
    return await _Visiting(connection, unit, link, clock, tally).read()


class _Visiting:
    """One visit under way."""

    def __init__(self, connection: Connection, unit: Unit, link: LinkSettings, clock: Clock, tally: Tally) -> None:
        self._connection = connection
        self._unit = unit
        self._link = link
        self._clock = clock
        self._tally = tally
        self._answered = False

    async def read(self) -> Visit:
        over = await self._regain_step()
        now = self._clock.now
        reads = []
        for request in self._unit.requests:
            if over is not None:
                reads.append(BlockRead(request.block, now(), (), over))
                continue
            reply = await self._ask(request)
            reads.append(BlockRead(request.block, now(), reply.words, reply.failure))
            if reply.failure is not None:
                over = self._ends_visit(request, reply)
        return Visit(tuple(reads), self._answered)

    async def _ask(self, request: Request, owed: frozenset[Shape] = frozenset()) -> Reply:
        asked_s = real_s()
        reply = await self._connection.ask(request, self._link.timeout_s, owed)
        self._tally.count(reply, real_s() - asked_s)
        if reply.answered and not self._answered and not _silence(reply):
            self._answered = True
            self._unit.answered()
        return reply

    def _ends_visit(self, request: Request, reply: Reply) -> Failure | None:
        """Return the failure of everything not yet read, or None: the next block may be asked."""
        if not reply.answered and self._link.protocol is not Protocol.TCP:
            self._unit.step.lose(request.shape, real_s(), self._link.late_answer_s)
        elif self._connection.usable and not _silence(reply):
            return None
        failure = reply.failure
        if failure is not None and failure.reason is not Reason.NO_CONNECTION:
            self._unit.set_aside(failure, self._clock.now().mono_s)
        return failure

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
                return self._ends_visit(proof, reply)
            step.prove(proof.shape, reply.function, real_s())
        return _NO_PROOF


def _silence(reply: Reply) -> bool:
    """Whether the unit said nothing, or its gateway said so for it."""
    return reply.failure is not None and reply.failure.reason is Reason.NO_ANSWER
