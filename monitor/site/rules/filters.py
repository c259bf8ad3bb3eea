"""Filters: rules for cleaning set points, compressed air and what a permit asks for."""

from collections.abc import Iterator

from monitor.interpret.settings import CleaningMode
from monitor.site.problems import KeyPath
from monitor.site.quantities import Quantity
from monitor.site.rules.fault import Fault
from monitor.site.shape.filters import Cleaning, CompressedAir, Permit
from monitor.site.shape.whole import Collector


def faults(path: KeyPath, collector: Collector, pa_per_inh2o: float) -> Iterator[Fault]:
    """Yield what cannot be meant of the filters of one collector."""
    if collector.cleaning is not None:
        yield from _cleaning((*path, "cleaning"), collector.cleaning, pa_per_inh2o)
    yield from _air((*path, "compressed_air"), collector.compressed_air)
    if collector.filters.change_out is not None:
        yield from _above_zero((*path, "filters", "change_out"), collector.filters.change_out)
    if collector.filters.design_flow is not None:
        yield from _above_zero((*path, "filters", "design_flow"), collector.filters.design_flow)
    if collector.permit is not None:
        yield from _permit((*path, "permit"), collector.permit, pa_per_inh2o)


def _cleaning(path: KeyPath, cleaning: Cleaning, pa_per_inh2o: float) -> Iterator[Fault]:
    start, stop = cleaning.start, cleaning.stop
    if cleaning.mode is CleaningMode.ON_DEMAND and (start is None or stop is None):
        missing = "start" if start is None else "stop"
        yield Fault(
            path, f"needs {missing}: on demand cleaning goes from start down to stop (or write mode: timed)"
        )
    if start is not None and stop is not None and stop.to(start.unit, pa_per_inh2o) >= start.number:
        wanted = f"must be above stop ({stop}): cleaning starts high and stops low"
        yield Fault((*path, "start"), wanted, f'"{start}"')


def _air(path: KeyPath, air: CompressedAir) -> Iterator[Fault]:
    if air.air_per_pulse is not None:
        yield from _above_zero((*path, "air_per_pulse"), air.air_per_pulse)
    if air.header_volume is not None:
        yield from _above_zero((*path, "header_volume"), air.header_volume)
    yield from _above_zero((*path, "cost_of"), air.cost_of)
    if air.cost is not None and air.cost.number < 0:
        yield Fault((*path, "cost"), "must be 0 or more", f'"{air.cost}"')


def _above_zero(path: KeyPath, found: Quantity) -> Iterator[Fault]:
    if found.number <= 0:
        yield Fault(path, "must be above 0", f'"{found}"')


def _permit(path: KeyPath, permit: Permit, pa_per_inh2o: float) -> Iterator[Fault]:
    if permit.average % 3600:
        yield Fault((*path, "average"), "must be whole hours")
    low, high = permit.low, permit.high
    if low is not None and high is not None and low.to(high.unit, pa_per_inh2o) >= high.number:
        yield Fault((*path, "low"), f"must be below high ({high})", f'"{low}"')
