"""Channels: a point of the site file becomes the settings it is conditioned by."""

from monitor.condition import units
from monitor.condition.channel import AnalogChannel, DiscreteChannel
from monitor.condition.registers import Encoding, Order, RegisterFormat
from monitor.condition.scaling import LinearScaling, LoopScaling
from monitor.scan.settings import PointPlan
from monitor.site import counts, reference
from monitor.site.points import FROZEN_SCANS, AnyAnalog, address_of, measuring_of, width_of
from monitor.site.shape.links import Link
from monitor.site.shape.points import DiscretePoint, FlowPoint, PressurePoint, Where
from monitor.words import UNIT_OF_ROLE, Role

STALE_AT_LEAST_S = 5.0


def point_plan(point: Where, role: Role, link: Link, pa_per_inh2o: float) -> PointPlan:
    """Return the plan of a point that breaks no rule."""
    stale_after_s = point.stale_after or max(3 * link.scan_period + link.timeout, STALE_AT_LEAST_S)
    channel: AnalogChannel | DiscreteChannel
    if isinstance(point, PressurePoint | FlowPoint):
        channel = _analog(point, role, link, stale_after_s, pa_per_inh2o)
    else:
        assert isinstance(point, DiscretePoint)  # noqa: S101 - tells the type checker what shape.points holds
        channel = _discrete(point, stale_after_s)
    return PointPlan(tag=point.tag, place=_place(point), channel=channel)


def _place(point: Where) -> str:
    address = address_of(point)
    if address is None:
        raise ValueError(f"{point.tag} has no address; the rules should have found that")
    table, first = address
    place = reference.place(point.link, point.unit_id, table, first, width_of(point))
    bit = point.bit if isinstance(point, DiscretePoint) else None
    return place if bit is None else f"{place}, bit {bit}"


def _analog(point: AnyAnalog, role: Role, link: Link, stale_after_s: float, pa_per_inh2o: float) -> AnalogChannel:
    unit = UNIT_OF_ROLE[role]
    valid = point.valid_range
    measuring = measuring_of(point, role, pa_per_inh2o)
    return AnalogChannel(
        format=_format(point.encoding, point.word_order, point.byte_order),
        scaling=_scaling(point, unit, pa_per_inh2o),
        valid_low=valid.low.to(unit, pa_per_inh2o) if valid else None,
        valid_high=valid.high.to(unit, pa_per_inh2o) if valid else None,
        median_samples=point.damping.median,
        lag_s=point.damping.lag,
        frozen_after_s=_frozen_after_s(point, link),
        stale_after_s=stale_after_s,
        span=measuring[1] - measuring[0] if measuring else None,
        unit=unit,
    )


def _frozen_after_s(point: AnyAnalog, link: Link) -> float | None:
    """The default grows with the scan period: a few equal samples an hour apart say nothing yet."""
    if point.frozen_after is None or "frozen_after" in point.model_fields_set:
        return point.frozen_after
    return max(point.frozen_after, FROZEN_SCANS * link.scan_period)


def _scaling(point: AnyAnalog, unit: str, pa_per_inh2o: float) -> LoopScaling | LinearScaling:
    if point.engineering is not None:
        linear = point.engineering
        to_inside = units.factor(linear.unit, unit, pa_per_inh2o)
        return LinearScaling(scale=linear.scale, offset=linear.offset, to_inside=to_inside)
    if point.loop is None:
        raise ValueError(f"{point.tag} has neither loop nor engineering; the rules should have found that")
    loop = point.loop
    return LoopScaling(
        counts_at_4_ma=loop.counts_at_4_ma,
        counts_at_20_ma=loop.counts_at_20_ma,
        value_at_4_ma=loop.at_4_ma.to(unit, pa_per_inh2o),
        value_at_20_ma=loop.at_20_ma.to(unit, pa_per_inh2o),
        full_scale_counts=_full_scale(point),
    )


def _full_scale(point: AnyAnalog) -> float | None:
    loop = point.loop
    if loop is None or "full_scale_counts" in loop.model_fields_set:
        return loop.full_scale_counts if loop else None
    return counts.inferred_full_scale(point.encoding, loop.counts_at_4_ma, loop.counts_at_20_ma)


def _discrete(point: DiscretePoint, stale_after_s: float) -> DiscreteChannel:
    threshold = point.threshold
    if threshold is None or point.encoding is None:
        return DiscreteChannel(bit=point.bit, inverted=point.inverted, stale_after_s=stale_after_s)
    return DiscreteChannel(
        at_least=threshold.at_least.number,
        deadband=threshold.deadband.number if threshold.deadband else 0.0,
        format=_format(point.encoding, point.word_order, point.byte_order),
        scaling=LinearScaling(scale=threshold.scale, offset=threshold.offset),
        inverted=point.inverted,
        stale_after_s=stale_after_s,
    )


def _format(encoding: Encoding, word_order: Order | None, byte_order: Order) -> RegisterFormat:
    return RegisterFormat(encoding, word_order or Order.HIGH_FIRST, byte_order)
