"""Scale: from where to where the gauge of one collector reaches."""

from monitor.condition.channel import AnalogChannel
from monitor.condition.scaling import LoopScaling
from monitor.scan.settings import CollectorPlan
from monitor.tell.page.rounding import rounded
from monitor.words import Role

#: Where nothing is known of a collector but that it has a DP, inH2O (our choice).
PLAIN_INH2O = 10.0
#: So much room beyond the outermost band, as a share of it (our choice).
ROOM = 0.25


def scale(plan: CollectorPlan) -> dict[str, float | None]:
    """The measuring range where it is known, else a span that holds zero and every band, inH2O."""
    low, high = _measuring_range(plan) or _round_the_bands(plan)
    return {"low": rounded(low), "high": rounded(high)}


def _measuring_range(plan: CollectorPlan) -> tuple[float, float] | None:
    channel = plan.points[Role.DP].channel
    if not isinstance(channel, AnalogChannel):
        return None
    if isinstance(channel.scaling, LoopScaling):
        ends = (channel.scaling.value_at_4_ma, channel.scaling.value_at_20_ma)
        return min(ends), max(ends)
    if channel.valid_low is None or channel.valid_high is None or channel.valid_low >= channel.valid_high:
        return None
    return channel.valid_low, channel.valid_high


def _round_the_bands(plan: CollectorPlan) -> tuple[float, float]:
    setpoints = [band.setpoint_inh2o for band in plan.bands]
    high = max(setpoints, default=0.0) * (1.0 + ROOM)
    low = min([0.0, *setpoints]) * (1.0 + ROOM)
    return low, high if high > low else low + PLAIN_INH2O
