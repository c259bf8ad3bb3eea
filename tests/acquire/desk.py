"""Desk: what the tests of this room share: a plan in a line, a worker running, and what it delivered."""

import asyncio
import contextlib
import functools
import random

from monitor.acquire.settings import Address, LinkPlan, LinkSettings, Protocol, Source
from monitor.acquire.worker import LinkWorker
from monitor.clock import Clock
from monitor.words import LinkChange, PointId, Role, Table, UnitScan
from tests.peers.fault_device import register_value

TEST_LIMIT_S = 30.0


def in_loop(test):
    """Run an async test to its end."""

    @functools.wraps(test)
    def wrapper(*args, **kwargs):
        asyncio.run(asyncio.wait_for(test(*args, **kwargs), TEST_LIMIT_S))

    return wrapper


def source(unit_id=1, address=0, width=1, table=Table.HOLDING_REGISTER, name=None):
    name = name or f"{unit_id}/{table}/{address}"
    return Source(
        point=PointId(name, Role.DP), link="north", unit_id=unit_id, table=table, address=address, width=width
    )


def plan_for(port, *sources, protocol=Protocol.TCP, forbidden=(), where=None, **settings):
    defaults = {"timeout_s": 0.1, "scan_period_s": 0.1, "late_answer_s": 0.2}
    link = LinkSettings(
        name="north",
        protocol=protocol,
        where=where or Address(host="127.0.0.1", port=port),
        **(defaults | settings),
    )
    return LinkPlan(link=link, sources=sources or (source(),), forbidden=tuple(forbidden))


class Desk:
    """Takes what a worker delivers, and lets a test wait for it."""

    def __init__(self, plan, clock=None):
        self.clock = clock or Clock()
        self.items = []
        self._came = asyncio.Event()
        self.worker = LinkWorker(plan, clock=self.clock, deliver=self._take, rng=random.Random(7))

    def _take(self, item):
        self.items.append(item)
        self._came.set()

    @property
    def scans(self):
        return [item for item in self.items if isinstance(item, UnitScan)]

    @property
    def changes(self):
        return [item.connected for item in self.items if isinstance(item, LinkChange)]

    @property
    def reads(self):
        return [read for scan in self.scans for read in scan.reads]

    def of(self, unit_id):
        """The reads of one unit."""
        return [read for scan in self.scans if scan.unit_id == unit_id for read in scan.reads]

    async def until(self, holds, within_s=5.0):
        """Wait until ``holds(desk)``."""
        async with asyncio.timeout(within_s):
            while not holds(self):
                self._came.clear()
                await self._came.wait()

    async def fresh(self, holds, within_s=5.0):
        """Forget what came, and wait until a new read holds."""
        self.items.clear()
        await self.until(lambda desk: any(holds(read) for read in desk.reads), within_s)


@contextlib.asynccontextmanager
async def running(plan, clock=None):
    desk = Desk(plan, clock)
    task = asyncio.create_task(desk.worker.run())
    try:
        yield desk
        assert not task.done(), "the worker ended by itself"
    finally:
        task.cancel()
        await asyncio.wait([task])
        assert task.cancelled(), f"the worker died: {task.exception()!r}"


def good(read):
    return read.failure is None


def reason_of(read):
    return None if read.failure is None else read.failure.reason


FUNCTION = {Table.COIL: 1, Table.DISCRETE_INPUT: 2, Table.HOLDING_REGISTER: 3, Table.INPUT_REGISTER: 4}


def right(read):
    """Whether a good read of the fault device's registers holds what stands at those addresses."""
    block = read.block
    function = FUNCTION[block.table]
    wanted = tuple(register_value(block.unit_id, function, block.address + i) for i in range(block.count))
    return read.words == wanted
