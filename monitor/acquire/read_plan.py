"""Read plan: which requests bring in all points of one link, and where in them does each point lie?

Neighbouring entries of one unit and one table share a request. A request never holds an address that the
site file forbids, reads along no more unasked entries than the link allows, and stays within the limits of
the Modbus Application Protocol V1.1b3 (§6.1 to §6.4: 2000 bits, 125 registers) or the smaller one of the link.

Pure and deterministic: the order of the sources in the site file changes nothing.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import groupby

from monitor.acquire.settings import ForbiddenGap, LinkPlan, LinkSettings, Source
from monitor.words import Block, Slot, Table

MOST_BITS = 2000
MOST_REGISTERS = 125


def plan_blocks(plan: LinkPlan) -> tuple[Block, ...]:
    """Return the requests of one scan, sorted by unit, table and address.

    Every source of ``plan`` lies whole in exactly one slot of one block; a 32-bit point is never split.
    Forbidden gaps cut between sources. A source that is itself forbidden is a fault of the site file, which
    must refuse it; here it is still read, alone.
    """
    ordered = sorted(plan.sources, key=_order)
    return tuple(
        block
        for (unit_id, table), sources in groupby(ordered, key=lambda source: (source.unit_id, source.table))
        for block in _blocks(unit_id, table, sources, plan)
    )


def _order(source: Source) -> tuple[int, Table, int, int, str, str]:
    return (source.unit_id, source.table, source.address, source.width, *source.point)


@dataclass(slots=True)
class _Span:
    """A request in the making: entries ``first`` to ``end`` (exclusive)."""

    first: int
    end: int
    sources: list[Source] = field(default_factory=list)

    def block(self, unit_id: int, table: Table) -> Block:
        slots = tuple(Slot(each.point, each.address - self.first, each.width) for each in self.sources)
        return Block(unit_id, table, self.first, self.end - self.first, slots)


def _blocks(unit_id: int, table: Table, sources: Iterable[Source], plan: LinkPlan) -> Iterator[Block]:
    gaps = [gap for gap in plan.forbidden if (gap.unit_id, gap.table) == (unit_id, table)]
    span: _Span | None = None
    for source in sources:
        if span is None or not _joins(span, source, table, plan.link, gaps):
            if span is not None:
                yield span.block(unit_id, table)
            span = _Span(source.address, source.address)
        span.end = max(span.end, source.address + source.width)
        span.sources.append(source)
    if span is not None:
        yield span.block(unit_id, table)


def _joins(span: _Span, source: Source, table: Table, link: LinkSettings, gaps: Iterable[ForbiddenGap]) -> bool:
    """Tell whether a source may share the request. Sources come in address order, so only the end moves."""
    end = max(span.end, source.address + source.width)
    return (
        source.address - span.end <= link.max_gap
        and end - span.first <= most_entries(table, link)
        and not any(gap.first < end and gap.last >= span.first for gap in gaps)
    )


def most_entries(table: Table, link: LinkSettings) -> int:
    """Return the most entries of a table that one request on this link may ask for."""
    return MOST_BITS if table.is_bit else min(link.max_registers, MOST_REGISTERS)
