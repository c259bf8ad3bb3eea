"""Points: risks of what a register can and cannot show."""

from collections.abc import Iterator

from monitor.condition.channel import AnalogChannel
from monitor.condition.loop_current import FAILURE_HIGH_MA, FAILURE_LOW_MA
from monitor.condition.scaling import LoopScaling, converter_end_ma, to_current_ma
from monitor.scan.settings import CollectorPlan
from monitor.site import counts
from monitor.site.points import AnyAnalog, points_of
from monitor.site.problems import KeyPath
from monitor.site.reference import mistaken_for_address, reference_of
from monitor.site.risks.risk import Risk
from monitor.site.shape.points import Where
from monitor.site.shape.whole import Collector


def risks(path: KeyPath, shape: Collector, plan: CollectorPlan) -> Iterator[Risk]:
    """Yield what is risky about the points of one collector."""
    for role, point in points_of(shape):
        here = (*path, role.value)
        yield from _address_risks(here, point)
        channel = plan.points[role].channel
        scaling = channel.scaling if isinstance(channel, AnalogChannel) else None
        if isinstance(scaling, LoopScaling) and isinstance(point, AnyAnalog):
            yield from _loop_risks((*here, "loop"), point, scaling)


def _address_risks(path: KeyPath, point: Where) -> Iterator[Risk]:
    if point.table is None or point.protocol_address is None:
        return
    meant = mistaken_for_address(point.table, point.protocol_address)
    if meant is not None:
        yield Risk(
            (*path, "protocol_address"),
            f"looks like a reference number: {reference_of(point.table, meant)} is protocol address {meant}; "
            f"if it is one, write reference_number: {point.protocol_address}",
        )


def _loop_risks(path: KeyPath, point: AnyAnalog, scaling: LoopScaling) -> Iterator[Risk]:
    lowest_ma = _lowest_ma(point, scaling)
    if lowest_ma > FAILURE_LOW_MA:
        yield Risk(
            (*path, "counts_at_4_ma"),
            f"leaves {point.encoding} nothing below {lowest_ma:.3g} mA: a broken wire reads as the low end of the "
            "range, not as a failure; use a signed register or a 0 to 20 mA scale of the converter",
        )
    if "full_scale_counts" in _keys_of(point):
        return
    if scaling.full_scale_counts is None:
        yield from _nearby_end_risks(path, scaling)
        return
    end_ma = converter_end_ma(scaling)
    if end_ma < FAILURE_HIGH_MA:
        yield Risk(
            path,
            f"is taken to end at {scaling.full_scale_counts:g} counts ({end_ma:.4g} mA): a reading there is "
            "saturated or failed high, never a full scale, so set the transmitter to fail low; write "
            f"full_scale_counts: {scaling.full_scale_counts:g} if so, or none if the converter reaches beyond",
        )


def _nearby_end_risks(path: KeyPath, scaling: LoopScaling) -> Iterator[Risk]:
    """The usual converters end at a power of two less one; some lie so near that a failure high cannot show."""
    beyond = [end for end in counts.LAST_COUNTS if end > scaling.counts_at_20_ma]
    end_ma = to_current_ma(scaling, min(beyond)) if beyond else FAILURE_HIGH_MA
    if scaling.counts_at_4_ma < scaling.counts_at_20_ma and end_ma < FAILURE_HIGH_MA:
        yield Risk(
            (*path, "counts_at_20_ma"),
            f"lies close to {min(beyond)} counts ({end_ma:.4g} mA), where many converters end: a transmitter that "
            f"fails high could not be told from a reading; write full_scale_counts: {min(beyond)} if this one "
            "does, or none if it reaches beyond",
        )


def _lowest_ma(point: AnyAnalog, scaling: LoopScaling) -> float:
    ends = counts.RANGE.get(point.encoding)
    if ends is None:
        return float("-inf")
    return min(to_current_ma(scaling, end) for end in ends)


def _keys_of(point: AnyAnalog) -> set[str]:
    return point.loop.model_fields_set if point.loop is not None else set()
