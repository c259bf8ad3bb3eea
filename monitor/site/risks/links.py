"""Links: risks on the wire."""

from collections.abc import Iterator

from monitor.acquire import line_time, read_plan
from monitor.acquire.settings import Address, LinkPlan, Parity, SerialPort
from monitor.site.plan import SitePlan
from monitor.site.problems import KeyPath
from monitor.site.risks.risk import Risk
from monitor.words import Role


def risks(plan: SitePlan) -> Iterator[Risk]:
    """Yield what is risky about the links of a site, and about what is read through them."""
    yield from _same_place_risks(plan)
    first: dict[Address, str] = {}
    for name, link_plan in plan.links.items():
        path: KeyPath = ("links", name)
        where = link_plan.link.where
        if link_plan.outputs and not link_plan.sources:
            yield Risk(
                path, "carries the annunciator alone: nothing is read through it, so its loss raises no alarm"
            )
        elif not link_plan.sources:
            yield Risk(path, "is used by no point: nothing is read through it")
        if isinstance(where, SerialPort):
            yield from _character_risks(path, where)
            yield from _line_time_risks(path, link_plan)
        elif where in first:
            yield Risk(
                path, f"reaches the same address as link {first[where]}: many gateways serve one connection only"
            )
        else:
            first[where] = name


def _same_place_risks(plan: SitePlan) -> Iterator[Risk]:
    first: dict[tuple[object, ...], str] = {}
    for link_plan in plan.links.values():
        for source in link_plan.sources:
            collector, role = source.point
            place = (source.link, source.unit_id, source.table, source.address)
            if role is Role.DP and first.setdefault(place, collector) != collector:
                yield Risk(
                    ("collectors", collector, role.value), f"is read at the same place as that of {first[place]}"
                )


def _character_risks(path: KeyPath, port: SerialPort) -> Iterator[Risk]:
    bits = line_time.character_bits(port)
    if bits == line_time.STANDARD_CHARACTER_BITS:
        return
    stop_bits = 2 if port.parity is Parity.NONE else 1
    yield Risk(
        (*path, "stop_bits"),
        f"makes characters of {bits} bits where the Modbus serial line specification V1.02 §2.5.1 wants 11: with "
        f"parity {port.parity} that is stop_bits: {stop_bits}, unless the devices are set otherwise",
    )


def _line_time_risks(path: KeyPath, plan: LinkPlan) -> Iterator[Risk]:
    fastest_s = line_time.fastest_scan_s(plan.link, read_plan.plan_blocks(plan))
    if plan.link.scan_period_s < fastest_s:
        yield Risk(
            (*path, "scan_period"),
            f"is shorter than the {fastest_s:.2g} s the line needs for one scan, before any device has thought",
        )
