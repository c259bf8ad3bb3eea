"""Links: a link of the site file, with every point read through it, becomes one worker's plan."""

from collections.abc import Mapping
from dataclasses import replace

from monitor.acquire.settings import (
    Address,
    ForbiddenGap,
    LinkPlan,
    LinkSettings,
    Protocol,
    SerialPort,
    Source,
)
from monitor.judge.settings import AlarmSettings
from monitor.scan.settings import LinkAlarmPlan
from monitor.site.building.annunciator import outputs
from monitor.site.points import address_of, points_of, width_of
from monitor.site.shape.links import LateAnswer, Link, RtuLink
from monitor.site.shape.points import Where
from monitor.site.shape.whole import SiteFile
from monitor.site.tags import lost_tag
from monitor.words import PointId


def link_plans(file: SiteFile) -> Mapping[str, LinkPlan]:
    """Return the plan of each link of a site that breaks no rule."""
    sources: dict[str, list[Source]] = {name: [] for name in file.links}
    for name, collector in file.collectors.items():
        for role, point in points_of(collector):
            sources[point.link].append(_source(PointId(name, role), point))
    return {
        name: replace(_plan(name, link, tuple(sources[name])), outputs=outputs(file.annunciator, name))
        for name, link in file.links.items()
    }


def link_alarms(file: SiteFile, plans: Mapping[str, LinkPlan]) -> Mapping[str, LinkAlarmPlan]:
    """Return the alarm of each link that something is read through."""
    return {
        name: LinkAlarmPlan(
            name=name,
            alarm=_alarm(name, file.links[name]),
            units=frozenset(source.unit_id for source in plan.sources),
        )
        for name, plan in plans.items()
        if plan.sources
    }


def _alarm(name: str, link: Link) -> AlarmSettings:
    alarm = link.lost
    return AlarmSettings(
        tag=lost_tag(name, link),
        priority=alarm.priority,
        on_delay_s=alarm.on_delay,
        off_delay_s=alarm.off_delay,
        latching=alarm.latching,
        auto_clear_s=alarm.auto_clear,
        # A link that is there for moments only is a lost one: see the alarm for a bad signal.
        counts_back=True,
    )


def _plan(name: str, link: Link, sources: tuple[Source, ...]) -> LinkPlan:
    forbidden = tuple(
        ForbiddenGap(
            link=name,
            unit_id=gap.unit_id,
            table=gap.table,
            first=gap.first_protocol_address,
            last=gap.last_protocol_address,
        )
        for gap in link.never_read
    )
    return LinkPlan(link=_settings(name, link), sources=sources, forbidden=forbidden)


def _settings(name: str, link: Link) -> LinkSettings:
    where: SerialPort | Address
    if isinstance(link, RtuLink):
        where = SerialPort(device=link.serial_port, baud=link.baud, parity=link.parity, stop_bits=link.stop_bits)
    else:
        where = Address(host=link.host, port=link.port)
    # Modbus TCP numbers its answers, so there the setting means nothing and its default is as good as any.
    late = {"late_answer_s": link.late_answer} if isinstance(link, LateAnswer) else {}
    return LinkSettings(
        name=name,
        protocol=Protocol(link.protocol),
        where=where,
        timeout_s=link.timeout,
        scan_period_s=link.scan_period,
        max_registers=link.max_registers,
        max_gap=link.max_gap,
        **late,
    )


def _source(point_id: PointId, point: Where) -> Source:
    address = address_of(point)
    if address is None:
        raise ValueError(f"{point.tag} has no address; the rules should have found that")
    table, first = address
    return Source(
        point=point_id, link=point.link, unit_id=point.unit_id, table=table, address=first, width=width_of(point)
    )
