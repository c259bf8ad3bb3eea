"""Once: every block of every link a single time, for the person who commissions the plant."""

import asyncio
import random
from collections.abc import Iterable

from monitor.acquire.connection import Connection
from monitor.acquire.conversation import visit
from monitor.acquire.settings import LinkPlan
from monitor.acquire.tally import Tally
from monitor.acquire.unit import units_of
from monitor.clock import Clock
from monitor.words import BlockRead


async def read_once(plans: Iterable[LinkPlan], clock: Clock) -> list[BlockRead]:
    """Return one read for each block, in the order of the plans. Links are read side by side.

    A unit that does not answer is asked once; its other blocks fail with it. All connections are closed.
    """
    of_links = await asyncio.gather(*(_read_link(plan, clock) for plan in plans))
    return [read for reads in of_links for read in reads]


async def _read_link(plan: LinkPlan, clock: Clock) -> list[BlockRead]:
    reads: list[BlockRead] = []
    tally = Tally(plan.link.name)
    connection: Connection | None = None
    try:
        for unit in units_of(plan, random.Random(0)):  # noqa: S311 - nothing is drawn here
            if connection is None or not connection.usable:
                if connection is not None:
                    connection.close()
                connection = Connection(plan.link, _nothing)
                failure = await connection.open()
                if failure is not None:
                    reads.extend(unit.failed_reads(failure, clock.now()))
                    continue
            reads.extend((await visit(connection, unit, plan.link, clock, tally)).reads)
    finally:
        if connection is not None:
            connection.close()
            await asyncio.sleep(0)
    return reads


def _nothing() -> None:
    """The loss of the connection shows in the request that met it."""
