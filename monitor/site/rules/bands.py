"""Bands: rules for the alarms of a collector, judged on the finished plan where numbers share one unit."""

from collections.abc import Iterator

from monitor.judge.settings import Band, Side
from monitor.scan.settings import CollectorPlan
from monitor.site.points import measuring_of
from monitor.site.problems import KeyPath
from monitor.site.reach import reach_of
from monitor.site.rules import filters
from monitor.site.rules.fault import Fault
from monitor.site.shape.alarms import Band as BandShape
from monitor.site.shape.whole import Collector
from monitor.words import Role


def shape_faults(path: KeyPath, collector: Collector, pa_per_inh2o: float) -> Iterator[Fault]:
    """Yield what keeps a collector's alarms from being built at all."""
    for tag, band in collector.bands.items():
        yield from _band_faults((*path, "bands", tag), band)
    yield from filters.faults(path, collector, pa_per_inh2o)


def _band_faults(path: KeyPath, band: BandShape) -> Iterator[Fault]:
    if (band.above is None) == (band.below is None):
        has_both = band.above is not None
        wanted = "must have above or below, not both" if has_both else "needs a set point: above or below"
        yield Fault(path, wanted)
    if band.deadband is not None and band.deadband.number < 0:
        yield Fault((*path, "deadband"), "must be 0 or more", f'"{band.deadband}"')


def plan_faults(path: KeyPath, plan: CollectorPlan, shape: Collector, pa_per_inh2o: float) -> Iterator[Fault]:
    """Yield bands that, once raised, could never return to normal."""
    measuring = measuring_of(shape.dp, Role.DP, pa_per_inh2o)
    low, high = reach_of(plan.points[Role.DP].channel, measuring)
    for band in plan.bands:
        room = _room(band, low, high)
        if room is None or room <= 0 or band.deadband_inh2o < room:
            continue
        given = shape.bands[band.alarm.tag].deadband
        found = f'"{given}"' if given else f'the default, "{band.deadband_inh2o:g} inH2O"'
        wanted = f"must be less than {room:.6g} inH2O: with more the alarm could never return to normal"
        yield Fault((*path, "bands", band.alarm.tag, "deadband"), wanted, found)


def _room(band: Band, low: float | None, high: float | None) -> float | None:
    """How far the DP can come back from the set point; None where the transmitter's range is not known.

    A high band has the way down to 0, the DP of a stopped fan, and no further.
    """
    if band.side is Side.BELOW:
        return None if high is None else high - band.setpoint_inh2o
    if band.setpoint_inh2o > 0:
        return band.setpoint_inh2o - max(low or 0.0, 0.0)
    return None if low is None else band.setpoint_inh2o - low
