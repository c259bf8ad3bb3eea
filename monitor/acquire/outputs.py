"""Outputs: the only writes that ever leave the process, what they shall show, and when they are sent.

``write_request`` is the one place where a write frame is made, and it takes nothing but an output of the plan.

Writes come after the reads of a scan, or while the worker rests, and take at most one timeout of the link in each
scan from the reads. What changed is written, and all is written again every ``REFRESH_S``: an annunciator that was
restarted gets its state back. What failed is tried again at the next scan; a unit that says nothing costs a
timeout each time, so it is tried ever more rarely, down to every ``RETRY_MOST_S``, the units that answer first.

RTU framings: after a write without an answer the connection is replaced and nothing is written to that unit for
``late_answer_s``. Its reads go on behind a proof (``step``). A late echo is no read's answer and no other write's;
it can be taken for that of the same value written to the same entry again, which the refresh outlives.
"""

import logging
import random
import struct
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from monitor.acquire.backoff import Backoff
from monitor.acquire.connection import Connection
from monitor.acquire.framing import Shape, crc16
from monitor.acquire.requests import Reply, Request
from monitor.acquire.settings import LinkPlan, LinkSettings, Output, Protocol
from monitor.acquire.step import Step
from monitor.acquire.tally import Tally
from monitor.acquire.unit import Unit
from monitor.clock import Clock, real_s
from monitor.words import Block, Failure, Reason, Table

#: What stands is written again this often, scan seconds.
REFRESH_S = 5.0
#: What could not be written is tried again at least this often, scan seconds.
RETRY_MOST_S = 10.0

#: Write Single Coil, Write Single Register (Modbus Application Protocol V1.1b3 §6.5, §6.6); there are no others.
FUNCTION_OF_OUTPUT = {Table.COIL: 0x05, Table.HOLDING_REGISTER: 0x06}
COIL_ON = 0xFF00
LAST_WORD = 0xFFFF
#: On a serial line 0 is a broadcast to every device, and from 248 on reserved (Serial Line V1.02 §2.2); a gateway
#: may pass a broadcast on. 255 is the device itself on Modbus TCP (Messaging on TCP/IP V1.0b §4.4.1.2).
UNITS = frozenset((*range(1, 248), 255))

_log = logging.getLogger(__name__)


def write_request(plan: LinkPlan, output: Output, value: int) -> Request:
    """Make the frame that writes ``value`` (a bit or a word) to an output of the plan.

    Raises:
        ValueError: the output is not in the plan, or would be a broadcast, or no such value fits into it.
    """
    if output not in plan.outputs or output.unit_id not in UNITS:
        raise ValueError(f"{output} is not to be written on link {plan.link.name}")
    _check(output, value)
    word = COIL_ON * value if output.table is Table.COIL else value
    pdu = struct.pack(">BHH", FUNCTION_OF_OUTPUT[output.table], output.address, word)
    rtu = bytes((output.unit_id,)) + pdu
    mbap = struct.pack(">HHB", 0, len(pdu) + 1, output.unit_id) + pdu
    block = Block(output.unit_id, output.table, output.address, 1, ())
    return Request(block, Shape(pdu[0], len(pdu) - 1, pdu), rtu + crc16(rtu).to_bytes(2, "little"), mbap)


def _check(output: Output, value: int) -> None:
    if not 0 <= value <= (1 if output.table is Table.COIL else LAST_WORD):
        raise ValueError(f"{value} does not fit into the {output.table} of {output.name}")


@dataclass(slots=True)
class _Entry:
    """One output: what it shall show, and what it was last known to show."""

    output: Output
    wanted: int | None = None
    written: int | None = None
    written_s: float = 0.0
    tried_s: float = 0.0
    hold_until_s: float = 0.0
    failing: bool = False

    def due(self, now_s: float) -> bool:
        if self.wanted is None or now_s < self.hold_until_s:
            return False
        return self.wanted != self.written or now_s - self.written_s >= REFRESH_S


@dataclass(slots=True)
class _Side:
    """One unit that is written to: how long it is left alone, on the scan clock and in real seconds."""

    backoff: Backoff
    step: Step = field(default_factory=Step)
    hold_until_s: float = 0.0
    quiet_until_real_s: float = 0.0


class Outputs:
    """What one link shall show, and what of it was written.

    Args:
        plan: its outputs are all that may be written.
        clock: the scan clock.
        tally: counts every write.
        dice: for the jitter.
    """

    def __init__(self, plan: LinkPlan, clock: Clock, tally: Tally, dice: random.Random) -> None:
        self._clock = clock
        self._tally = tally
        self._dice = dice
        self._entries: dict[str, _Entry] = {}
        self._sides: dict[int, _Side] = {}
        self._left_s = 0.0
        self.follow(plan)

    def follow(self, plan: LinkPlan) -> None:
        """Go by another plan: what changed there, or is new, waits until somebody says what it shall show."""
        self._plan = plan
        entries = {}
        for output in plan.outputs:
            known = self._entries.get(output.name)
            entries[output.name] = known if known and known.output == output else _Entry(output)
        self._entries = entries  # whole at once: the figures are drawn from another thread
        self._sides = {output.unit_id: self._side(output.unit_id) for output in plan.outputs}

    def want(self, values: Mapping[str, int]) -> bool:
        """Say what outputs shall show; return whether anything has to be written for it.

        Raises:
            KeyError: the plan has no output of that name; nothing is changed then.
            ValueError: such a value does not fit; likewise.
        """
        for name, value in values.items():
            _check(self._entries[name].output, value)
        news = False
        for name, value in values.items():
            news = news or self._entries[name].wanted != value
            self._entries[name].wanted = value
        return news

    def forget_written(self) -> None:
        """The way there is new, and so may be the device: write everything again."""
        for entry in self._entries.values():
            entry.written = None

    def unwritten(self) -> tuple[str, ...]:
        """Return the names of the outputs that do not show, as far as we know, what they shall."""
        return tuple(e.output.name for e in self._entries.values() if e.failing or e.wanted != e.written)

    def begin_scan(self) -> None:
        """From here on the reads may be delayed by one timeout."""
        self._left_s = self._plan.link.timeout_s

    async def write(
        self, connection: Connection, plan: LinkPlan, units: Iterable[Unit], spare_s: float = 0.0
    ) -> bool:
        """Write what is due, while the connection is usable and time is left; return whether anything was tried.

        Args:
            connection: of ``plan``, with no request in flight.
            plan: what the worker reads by; where it is not ours (yet, or any more), nothing is written.
            units: what the reads know of the units of this link.
            spare_s: real seconds in which nothing else has to be done.
        """
        steps = {unit.unit_id: unit.step for unit in units} if self._entries else {}
        limit_s = min(plan.link.timeout_s, max(spare_s, self._left_s))
        began_s, tried = real_s(), False
        for entry in sorted(self._entries.values(), key=self._turn):
            left_s = limit_s - (real_s() - began_s)
            if plan is not self._plan or not connection.usable or left_s < plan.link.timeout_s / 2:
                break
            if self._due(entry, steps):
                await self._write_one(connection, entry, steps, left_s)
                tried = True
        self._left_s -= real_s() - began_s
        return tried

    async def _write_one(
        self, connection: Connection, entry: _Entry, steps: Mapping[int, Step], timeout_s: float
    ) -> None:
        value = entry.wanted
        if value is None:
            return
        side, link = self._sides[entry.output.unit_id], self._plan.link
        request = write_request(self._plan, entry.output, value)
        step = steps.get(entry.output.unit_id, side.step)
        reply = await connection.ask(request, timeout_s, step.owed(real_s()))
        self._tally.count_write(entry.output.name, reply)
        entry.tried_s = now_s = self._clock.now().mono_s
        if reply.failure is None:
            entry.written, entry.written_s = value, now_s
            side.backoff.reset()
        else:
            self._put_off(entry, side, step, request, reply)
        self._note(entry, link, reply.failure)

    def _put_off(self, entry: _Entry, side: _Side, step: Step, request: Request, reply: Reply) -> None:
        link = self._plan.link
        entry.written = None
        entry.hold_until_s = entry.tried_s + _retry_s(link)
        if not reply.answered or (reply.failure and reply.failure.reason is Reason.NO_ANSWER):
            side.hold_until_s = entry.tried_s + side.backoff.wait_s()
        if not reply.answered and link.protocol is not Protocol.TCP:
            step.owe(request.shape, real_s(), link.late_answer_s)
            side.quiet_until_real_s = real_s() + link.late_answer_s

    def _due(self, entry: _Entry, steps: Mapping[int, Step]) -> bool:
        now_s, side = self._clock.now().mono_s, self._sides[entry.output.unit_id]
        step = steps.get(entry.output.unit_id, side.step)
        quiet_until_s = max(side.quiet_until_real_s, step.quiet_until_s)
        return entry.due(now_s) and now_s >= side.hold_until_s and real_s() >= quiet_until_s

    def _turn(self, entry: _Entry) -> tuple[bool, float]:
        """Who answers goes first, then who has waited longest."""
        return entry.failing, entry.tried_s

    def _side(self, unit_id: int) -> _Side:
        link = self._plan.link
        return self._sides.get(unit_id) or _Side(Backoff(_retry_s(link), RETRY_MOST_S, self._dice))

    def _note(self, entry: _Entry, link: LinkSettings, failure: Failure | None) -> None:
        if entry.failing == (failure is not None):
            return
        entry.failing = failure is not None
        if failure is not None:
            _log.warning("output fails link=%s output=%s why=%s", link.name, entry.output.name, failure.detail)
        else:
            _log.info("output written again link=%s output=%s", link.name, entry.output.name)


def _retry_s(link: LinkSettings) -> float:
    # Half a period: the ends of two scans may lie closer together than their starts.
    return min(link.scan_period_s / 2, RETRY_MOST_S)
