"""Step: may an answer on an RTU line still belong to an earlier request?

RTU framing carries neither transaction nor address, so after a timeout the next answer of that unit may be
the late one. Three guards stand in a row; a wrong value would have to pass all of them:

1. The connection is closed and opened again, and the unit is left alone for ``late_answer_s``.
2. Then it is asked for a *proof*: a request whose answer has a shape that no owed answer has. A half-duplex
   line answers in the order it was asked, so once the proof is in, everything older has come or never will.
3. Until the proof is in, no value of this unit is believed.

An unanswered write is owed as well, and asks for the reopening and the proof; but any read is that proof, for no
write's answer has the shape of a read's. So reads go on at once, and writes alone are left alone (``outputs``).

Pure: times are passed in (seconds of any steady clock).
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from monitor.acquire.framing import EXCEPTION_BIT, FUNCTION_OF_TABLE, Shape, shape_of
from monitor.acquire.settings import ForbiddenGap
from monitor.words import Block

#: No device answers after this long, or after so many times the lateness expected of it (common sense, no
#: source). It bounds what must be remembered of a unit whose every possible proof is owed already.
FORGET_S = 60.0
FORGET_TIMES_LATE = 4.0

LAST_ADDRESS = 0xFFFF

#: At the same address of the other tables so many shapes of answer are tried. Where proofs themselves get lost
#: (on a line with an absent unit, say) each needs another shape, and without one a unit waits to be forgotten.
MOST_ELSEWHERE = 4


class Owed(NamedTuple):
    """An answer that did not come in time, and when it will not come any more."""

    shape: Shape
    until_s: float


class Step:
    """What one unit may still answer late."""

    __slots__ = ("_owed", "quiet_until_s")

    def __init__(self) -> None:
        self._owed: list[Owed] = []
        self.quiet_until_s = 0.0

    def lost(self, now_s: float) -> bool:
        """Whether a proof is needed before any value is believed."""
        self._forget(now_s)
        return bool(self._owed)

    def owed(self, now_s: float) -> frozenset[Shape]:
        """Return the shapes of the answers that may still come."""
        self._forget(now_s)
        return frozenset(owed.shape for owed in self._owed)

    def lose(self, shape: Shape, now_s: float, late_answer_s: float) -> None:
        """A request of this shape got no (believable) answer."""
        self.owe(shape, now_s, late_answer_s)
        self.quiet_until_s = now_s + late_answer_s

    def owe(self, shape: Shape, now_s: float, late_answer_s: float) -> None:
        """An answer of this shape may still come (of a write: it can be taken for no read's)."""
        self._owed.append(Owed(shape, now_s + max(FORGET_S, FORGET_TIMES_LATE * late_answer_s)))

    def prove(self, asked: Shape, function: int, now_s: float) -> bool:
        """Take in the answer to a proof; return whether the line is back in step.

        Data of the asked shape are a proof. An exception is one only if no owed request had the same
        function; otherwise it may be the late answer to any of them, so just the oldest is settled.
        """
        ambiguous = function & EXCEPTION_BIT and any(owed.shape.function == asked.function for owed in self._owed)
        if not ambiguous:
            self._owed.clear()
            return True
        self._owed = [*self._owed[1:], Owed(asked, now_s + FORGET_S)]
        return False

    def _forget(self, now_s: float) -> None:
        if self._owed and now_s > self._owed[0].until_s:
            self._owed = [owed for owed in self._owed if now_s <= owed.until_s]


def proof_block(
    blocks: Sequence[Block], owed: frozenset[Shape], forbidden: Iterable[ForbiddenGap], most_registers: int
) -> Block | None:
    """Return the request that no owed answer can be taken for, or None: wait until some are forgotten.

    Preferred in this order: a part of what is read anyway; one register more; the same address of the
    other tables, which a device answers, be it with an exception. Never a forbidden address.
    """
    gaps = tuple(forbidden)
    for block in _candidates(blocks, most_registers):
        if shape_of(block) not in owed and not _touches(block, gaps):
            return block
    return None


def _candidates(blocks: Sequence[Block], most_registers: int) -> Iterator[Block]:
    for block in blocks:
        # Half a byte more or less of bits makes no other shape; whole bytes do.
        grain = 8 if block.table.is_bit else 1
        yield from (_part(block, count) for count in range(block.count, 0, -grain))
    for block in blocks:
        more = block.count + (8 if block.table.is_bit else 1)
        if block.address + more - 1 <= LAST_ADDRESS and (block.table.is_bit or more <= most_registers):
            yield _part(block, more)
    for size in range(MOST_ELSEWHERE):
        for block in blocks:
            yield from _elsewhere(block, size, most_registers)


def _elsewhere(block: Block, size: int, most_registers: int) -> Iterator[Block]:
    for table in FUNCTION_OF_TABLE:
        count = 1 + (8 if table.is_bit else 1) * size
        if block.address + count - 1 <= LAST_ADDRESS and (table.is_bit or count <= most_registers):
            yield Block(block.unit_id, table, block.address, count, ())


def _part(block: Block, count: int) -> Block:
    return Block(block.unit_id, block.table, block.address, count, ())


def _touches(block: Block, gaps: Iterable[ForbiddenGap]) -> bool:
    last = block.address + block.count - 1
    return any(
        (gap.unit_id, gap.table) == (block.unit_id, block.table)
        and gap.first <= last
        and gap.last >= block.address
        for gap in gaps
    )
