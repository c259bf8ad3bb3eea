"""Annunciator: rules for what may be written, so that no write ever lands where it does harm."""

from collections.abc import Iterator

from monitor.site import reference
from monitor.site.outputs import outputs_of, words_of
from monitor.site.points import address_of, all_points, width_of
from monitor.site.problems import KeyPath
from monitor.site.rules import addresses
from monitor.site.rules.fault import Fault
from monitor.site.rules.links import link_fault, unit_faults
from monitor.site.shape.annunciator import WRITABLE, Annunciator, Written
from monitor.site.shape.links import Link, RtuLink, TcpLink
from monitor.site.shape.whole import SiteFile
from monitor.words import Table

_HERE: KeyPath = ("annunciator",)


def faults(file: SiteFile, link_names: frozenset[str]) -> Iterator[Fault]:
    """Yield what breaks a rule about the annunciator; ``link_names`` are all names, those of faulty links too."""
    shape = file.annunciator
    if shape is None:
        return
    if shape.horn is None and shape.beacon is None:
        yield Fault(_HERE, "needs a horn or a beacon: without one it calls nobody")
    for name, written in outputs_of(shape):
        yield from _output_faults((*_HERE, name), written)
    yield from _twice(shape)
    yield from link_fault(_HERE, shape.link, link_names)
    link = file.links.get(shape.link)
    if link is not None:
        yield from _unit_faults(shape, link)
        yield from _read_too(file, shape, link)


def _output_faults(path: KeyPath, written: Written) -> Iterator[Fault]:
    yield from addresses.way_faults(path, written)
    address = address_of(written)
    if address is None:
        return
    if address[0] not in WRITABLE:
        found = f'"{written.reference_number}", {reference.with_article(address[0])}'
        yield Fault((*path, "reference_number"), "must be a coil or a holding register", found)
    elif address[0] is Table.COIL:
        for key in ("on_word", "off_word"):
            if getattr(written, key) is not None:
                yield Fault((*path, key), "goes with a holding register alone: a coil is 1 or 0")
    elif (on_off := words_of(written))[0] == on_off[1]:
        wanted = "must differ from what is written for off: nothing would ever change"
        yield Fault((*path, "on_word" if written.on_word is not None else "off_word"), wanted, f'"{on_off[0]}"')


def _twice(shape: Annunciator) -> Iterator[Fault]:
    first: dict[tuple[Table, int], str] = {}
    for name, written in outputs_of(shape):
        address = address_of(written)
        if address is None:
            continue
        other = first.setdefault(address, name)
        if other != name:
            yield Fault((*_HERE, name), f"is written where {other} is: {_shown(address)}; give each its own")


def _unit_faults(shape: Annunciator, link: Link) -> Iterator[Fault]:
    # Reading may ask unit 0 on Modbus TCP. A write to 0 is a broadcast on a serial line (Modbus serial line V1.02
    # §2.2), and nobody can tell from here which gateways pass it on.
    unit_id, path = shape.unit_id, (*_HERE, "unit_id")
    if unit_id == 0 and isinstance(link, TcpLink):
        wanted = "must be 1 to 247, or 255 for a device reached by its IP address alone: 0 may be a broadcast"
        yield Fault(path, wanted, f'"{unit_id}"')
    elif unit_id == 0:
        yield Fault(path, "must be 1 to 247 on RTU: 0 is the broadcast, which every device obeys", f'"{unit_id}"')
    elif isinstance(link, TcpLink) and 248 <= unit_id <= 254:
        yield Fault(path, "must be 1 to 247, or 255: 248 to 254 are reserved", f'"{unit_id}"')
    else:
        yield from unit_faults(path, link, unit_id)


def _read_too(file: SiteFile, shape: Annunciator, link: Link) -> Iterator[Fault]:
    """An entry that is read as a point belongs to another device's own business: it is never written."""
    for path, point in all_points(file):
        read, through = address_of(point), file.links.get(point.link)
        is_same_unit = through is not None and _wire(through) == _wire(link) and point.unit_id == shape.unit_id
        if read is None or not is_same_unit:
            continue
        entries = range(read[1], read[1] + width_of(point))
        for name, written in outputs_of(shape):
            address = address_of(written)
            if address is not None and address[0] is read[0] and address[1] in entries:
                owner = ".".join(str(part) for part in path)
                wanted = f"must not be an entry that is read: {owner} is read at {_shown(address)}"
                yield Fault((*_HERE, name), wanted)


def _wire(link: Link) -> tuple[object, ...]:
    """What is on the other side of a link: two links to one gateway lead to the same devices."""
    return (link.serial_port,) if isinstance(link, RtuLink) else (link.host.casefold(), link.port)


def _shown(address: tuple[Table, int]) -> str:
    table, entry = address
    return f"{table}, protocol address {entry} (reference {reference.reference_of(table, entry)})"
