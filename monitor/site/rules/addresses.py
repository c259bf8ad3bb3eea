"""Addresses: rules for where a point is read, so that nothing is read one register off."""

from collections.abc import Iterator

from monitor.site import reference
from monitor.site.points import address_of, width_of
from monitor.site.problems import KeyPath
from monitor.site.rules.fault import Fault
from monitor.site.shape.annunciator import WRITABLE, Written
from monitor.site.shape.points import DiscretePoint, Where
from monitor.words import Table

_WAYS = "table and protocol_address (from 0), or reference_number (from 1, such as 30001)"
_WAYS_TO_WRITE = _WAYS.replace("30001", "40001")


def faults(path: KeyPath, point: Where) -> Iterator[Fault]:
    """Yield what breaks a rule about one point's address."""
    yield from way_faults(path, point)
    address = address_of(point)
    if address is None:
        return
    table, first = address
    key = "reference_number" if point.reference_number is not None else "table"
    yield from _table_faults((*path, key), point, table)
    if first + width_of(point) > reference.ENTRIES:
        yield Fault(path, f"takes two registers, and the table ends at protocol address {reference.ENTRIES - 1}")


def way_faults(path: KeyPath, point: Where | Written) -> Iterator[Fault]:
    """Yield what is wrong with how the file names an address, whatever is read or written there."""
    number = point.reference_number
    ways = _WAYS_TO_WRITE if isinstance(point, Written) else _WAYS
    if number is None:
        if point.table is None and point.protocol_address is None:
            yield Fault(path, f"needs an address: {ways}")
        elif point.protocol_address is None:
            yield Fault((*path, "protocol_address"), f"is missing: write {ways}")
        elif point.table is None:
            tables = ", ".join(table.value for table in (WRITABLE if isinstance(point, Written) else Table))
            yield Fault((*path, "table"), f"is missing: a protocol address counts inside a table, one of {tables}")
        return
    for key in ("table", "protocol_address"):
        if getattr(point, key) is not None:
            yield Fault((*path, key), "must not stand beside reference_number, which says it already: keep one")
    try:
        reference.parse(number)
    except ValueError as error:
        yield Fault((*path, "reference_number"), f"must name an entry of its table: {error}", f'"{number}"')


def _table_faults(path: KeyPath, point: Where, table: Table) -> Iterator[Fault]:
    found = (
        f'"{table}"'
        if point.reference_number is None
        else f'"{point.reference_number}", {reference.with_article(table)}'
    )
    wants_bits = isinstance(point, DiscretePoint) and point.bit is None and point.threshold is None
    if wants_bits and not table.is_bit:
        wanted = "must be a coil or a discrete input, or else bit or threshold must say what the register means"
        yield Fault(path, wanted, found)
    elif not wants_bits and table.is_bit:
        yield Fault(path, "must be an input register or a holding register", found)
