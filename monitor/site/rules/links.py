"""Links: rules between links, and between a point and its link."""

from collections.abc import Iterator

from monitor.site.points import FROZEN_SCANS, address_of, all_points, width_of
from monitor.site.problems import KeyPath, shown
from monitor.site.rules.fault import Fault
from monitor.site.shape.links import Link, RtuLink, TcpLink
from monitor.site.shape.points import Analog, Where
from monitor.site.shape.whole import SiteFile
from monitor.site.values import listed, meant


def faults(file: SiteFile, link_names: frozenset[str]) -> Iterator[Fault]:
    """Yield what breaks a rule about links; ``link_names`` are all names, those of faulty links too."""
    yield from _shared_ports(file)
    for name, link in file.links.items():
        yield from _never_read_faults(("links", name), link)
    for path, point in all_points(file):
        yield from _of_point(path, point, file, link_names)


def _shared_ports(file: SiteFile) -> Iterator[Fault]:
    first: dict[str, str] = {}
    for name, link in file.links.items():
        if not isinstance(link, RtuLink):
            continue
        if link.serial_port in first:
            wanted = (
                f"is the port of link {first[link.serial_port]} already: one wire has one link, with all its units"
            )
            yield Fault(("links", name, "serial_port"), wanted, shown(link.serial_port))
        first.setdefault(link.serial_port, name)


def _never_read_faults(path: KeyPath, link: Link) -> Iterator[Fault]:
    for index, gap in enumerate(link.never_read):
        here = (*path, "never_read", index)
        if gap.last_protocol_address < gap.first_protocol_address:
            wanted = f"must be {gap.first_protocol_address} or more, where the first one is"
            yield Fault((*here, "last_protocol_address"), wanted, f'"{gap.last_protocol_address}"')
        yield from unit_faults((*here, "unit_id"), link, gap.unit_id)


def _of_point(path: KeyPath, point: Where, file: SiteFile, link_names: frozenset[str]) -> Iterator[Fault]:
    yield from link_fault(path, point.link, link_names)
    link = file.links.get(point.link)
    if link is None:
        return
    yield from unit_faults((*path, "unit_id"), link, point.unit_id)
    if point.stale_after is not None and point.stale_after < link.scan_period:
        wanted = f"must be at least the scan period of its link, {link.scan_period:g} s"
        yield Fault((*path, "stale_after"), wanted, f'"{point.stale_after:g} s"')
    yield from _frozen_too_soon(path, point, link)
    if width_of(point) > link.max_registers:
        yield Fault(path, f"takes two registers, and link {point.link} asks for one at most (max_registers)")
    yield from _forbidden_reads(path, point, link)


def link_fault(path: KeyPath, name: str, link_names: frozenset[str]) -> Iterator[Fault]:
    """Yield the name of a link that is none."""
    if name not in link_names:
        near = meant(name, link_names)
        wanted = f"must be the name of a link: {listed(sorted(link_names)) if link_names else 'none is given'}"
        yield Fault((*path, "link"), wanted, shown(name) + (f": {near}" if near else ""))


def unit_faults(path: KeyPath, link: Link, unit_id: int) -> Iterator[Fault]:
    """Yield a unit identifier that no device behind this link can have."""
    if not _is_unit_of(link, unit_id):
        yield _unit_fault(path, link, unit_id)


def _frozen_too_soon(path: KeyPath, point: Where, link: Link) -> Iterator[Fault]:
    """A live DP may well show the same number at two scans in a row; at ten it does not."""
    if not isinstance(point, Analog) or "frozen_after" not in point.model_fields_set:
        return
    least_s, frozen_after = FROZEN_SCANS * link.scan_period, point.frozen_after
    if frozen_after is not None and frozen_after < least_s:
        wanted = f"must be at least {FROZEN_SCANS} scan periods of its link, {least_s:g} s, or never"
        yield Fault((*path, "frozen_after"), wanted, f'"{frozen_after:g} s"')


def _forbidden_reads(path: KeyPath, point: Where, link: Link) -> Iterator[Fault]:
    address = address_of(point)
    if address is None:
        return
    table, first = address
    last = first + width_of(point) - 1
    for gap in link.never_read:
        is_same_table = gap.unit_id == point.unit_id and gap.table is table
        if is_same_table and first <= gap.last_protocol_address and last >= gap.first_protocol_address:
            forbidden = f"{gap.first_protocol_address} to {gap.last_protocol_address}"
            yield Fault(
                path, f"is read where link {point.link} forbids it: never_read, protocol address {forbidden}"
            )


def _is_unit_of(link: Link, unit_id: int) -> bool:
    if isinstance(link, TcpLink):
        return unit_id <= 247 or unit_id == 255
    return 1 <= unit_id <= 247


def _unit_fault(path: KeyPath, link: Link, unit_id: int) -> Fault:
    # Modbus serial line V1.02 §2.2 reserves 248 to 255 and broadcasts to 0; Modbus TCP uses 0 and 255 for the
    # device that is reached by its IP address alone.
    if isinstance(link, TcpLink):
        return Fault(path, "must be 0 to 247, or 255: 248 to 254 are reserved", f'"{unit_id}"')
    why = "0 is the broadcast, which nobody answers" if unit_id == 0 else "248 to 255 are reserved"
    return Fault(path, f"must be 1 to 247 on RTU: {why}", f'"{unit_id}"')
