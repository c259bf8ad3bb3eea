"""Describing: a checked plan in plain words, for the person who has to find the slip before the plant does.

Everything that the file left to a default stands here with its value, and every address in both ways of
counting.
"""

from collections.abc import Iterator

from monitor.acquire.settings import Address, LinkPlan, LinkSettings
from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.condition.scaling import LoopScaling, converter_end_ma
from monitor.scan.settings import CollectorPlan, PointPlan
from monitor.site import describing_alarms, describing_commands, describing_filters, describing_phone
from monitor.site.durations import as_duration
from monitor.site.plan import SitePlan
from monitor.words import UNIT_OF_ROLE, Role

_ROLE_WORDS = {
    Role.DP: "differential pressure",
    Role.FAN_RUNNING: "fan running",
    Role.HEADER_PRESSURE: "header pressure",
    Role.AIR_FLOW: "air flow",
    Role.CLEANING_ACTIVE: "cleaning active",
}
_NE_43_REACH_MA = 21.0


def describe(plan: SitePlan) -> Iterator[str]:
    """Yield the lines that say what would be watched and where it would be told."""
    inch = f"inH2O means {plan.pa_per_inh2o:.8g} Pa ({plan.inch_of_water})"
    yield f"{plan.name}: {_count(len(plan.collectors), 'collector')} on {_count(len(plan.links), 'link')}; {inch}"
    yield ""
    for link in plan.links.values():
        yield _link(link)
        yield from describing_alarms.of_link(plan.link_alarms.get(link.link.name))
    for collector in plan.collectors.values():
        yield ""
        yield from _collector(collector)
        yield from describing_filters.of_collector(collector.curve, plan.permits.get(collector.name))
    yield ""
    yield from _outlets(plan)
    yield ""
    yield from describing_commands.of_commands(plan)
    yield from describing_commands.of_annunciator(plan)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _link(plan: LinkPlan) -> str:
    link = plan.link
    pace = f"every {as_duration(link.scan_period_s)}, timeout {as_duration(link.timeout_s)}"
    return f"link {link.name}: {link.protocol} {_where(link)}, {pace}, {_count(len(plan.sources), 'point')}"


def _where(link: LinkSettings) -> str:
    where = link.where
    if isinstance(where, Address):
        return f"at {where.host} port {where.port}"
    return f"on {where.device}, {where.baud} {where.data_bits}{where.parity[0].upper()}{where.stop_bits}"


def _collector(plan: CollectorPlan) -> Iterator[str]:
    area = f" ({plan.area})" if plan.area else ""
    yield f"{plan.name}{area}: {plan.description}" if plan.description else f"{plan.name}{area}"
    for role, point in plan.points.items():
        yield f"  {point.tag}  {_ROLE_WORDS[role]}: {point.place}"
        for line in _channel(point, role):
            yield f"    {line}"
    yield from describing_alarms.of_collector(plan)
    yield from _context(plan)


def _channel(point: PointPlan, role: Role) -> Iterator[str]:
    channel = point.channel
    if isinstance(channel, DiscreteChannel):
        yield f"{_discrete(channel)}; stale after {as_duration(channel.stale_after_s)}"
        return
    yield from _scaling(channel, UNIT_OF_ROLE[role])
    frozen = "never" if channel.frozen_after_s is None else f"after {as_duration(channel.frozen_after_s)}"
    yield f"{_damping(channel)}; stale after {as_duration(channel.stale_after_s)}; frozen {frozen}"


def _scaling(channel: AnalogChannel, unit: str) -> Iterator[str]:
    scaling, encoding = channel.scaling, channel.format.encoding
    order = f" {channel.format.word_order}" if encoding.width > 1 else ""
    if not isinstance(scaling, LoopScaling):
        factor, offset = scaling.scale * scaling.to_inside, scaling.offset * scaling.to_inside
        shift = f" {'-' if offset < 0 else '+'} {abs(offset):.6g}" if offset else ""
        yield f"{encoding}{order}, {unit} = number × {factor:.6g}{shift}"
        return
    low = f"{scaling.counts_at_4_ma:.10g} counts = 4 mA = {scaling.value_at_4_ma:.6g} {unit}"
    high = f"{scaling.counts_at_20_ma:.10g} counts = 20 mA = {scaling.value_at_20_ma:.6g} {unit}"
    yield f"{encoding}{order}, {low}; {high}"
    yield _converter_end(scaling)


def _converter_end(scaling: LoopScaling) -> str:
    end_ma = converter_end_ma(scaling)
    if end_ma >= _NE_43_REACH_MA:
        return "the converter reaches beyond 21 mA"
    return (
        f"the converter ends at {scaling.full_scale_counts:.10g} counts ({end_ma:.4g} mA), where it is saturated"
    )


def _damping(channel: AnalogChannel) -> str:
    parts = []
    if channel.median_samples is not None:
        parts.append(f"median of {channel.median_samples}")
    if channel.lag_s is not None:
        parts.append(f"lag {as_duration(channel.lag_s)}")
    return f"damped by {' and '.join(parts)}" if parts else "not damped"


def _discrete(channel: DiscreteChannel) -> str:
    if channel.at_least is not None:
        answer = f"yes from {channel.at_least:g} on, no {channel.deadband:g} below it"
    elif channel.bit is not None:
        answer = f"yes where bit {channel.bit} is 1"
    else:
        answer = "yes where it is 1"
    return f"{answer}, inverted" if channel.inverted else answer


def _context(plan: CollectorPlan) -> Iterator[str]:
    trends = plan.trends
    residual, average = as_duration(trends.residual_window_s), as_duration(trends.average_window_s)
    yield f"  residual DP over {residual}, running average over {average}"


def _outlets(plan: SitePlan) -> Iterator[str]:
    store = plan.store
    kept = f"a row every {as_duration(store.history_step_s)} for {as_duration(store.keep_history_s)}"
    minutes, hours = as_duration(store.keep_minutes_s), as_duration(store.keep_hours_s)
    kept += f", minutes for {minutes}, hours for {hours}"
    yield f"store: {store.folder}, {kept}, {store.max_history_mb} MB at most"
    if plan.mqtt is None:
        yield "MQTT: none"
    else:
        tls = "with TLS" if plan.mqtt.tls else "without TLS"
        version = "5" if plan.mqtt.version == 5 else "3.1.1"
        where = f"{plan.mqtt.host} port {plan.mqtt.port}"
        known_as = f", as {plan.mqtt.client_id}" if plan.mqtt.client_id else ""
        yield f"MQTT {version}: {where} {tls}, below {plan.mqtt.base_topic}{known_as}"
        taken = f"taken from {plan.mqtt.base_topic}/commands" if plan.mqtt.commands else "not taken"
        yield f"  commands are {taken}"
    yield from describing_phone.of_http(plan.http)
    yield from describing_phone.of_phone(plan.phone)
