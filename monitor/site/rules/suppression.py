"""Suppression: rules for what may hold a band back, so that no file promises what nothing can tell."""

from collections.abc import Iterator

from monitor.site.problems import KeyPath
from monitor.site.rules.fault import Fault
from monitor.site.shape.alarms import Suppress
from monitor.site.shape.whole import Collector


def faults(path: KeyPath, collector: Collector, written: frozenset[str]) -> Iterator[Fault]:
    """Yield suppressions that need a point which the collector does not have.

    Args:
        path: of the collector.
        collector: the collector.
        written: its keys as the file has them, those of faulty points too: what is there and wrong is not missing.
    """
    for tag, band in collector.bands.items():
        here = (*path, "bands", tag, "suppress")
        if "fan_running" not in written:
            yield from _without_fan(here, band.suppress)
        if "cleaning_active" not in written and band.suppress.cleaning:
            wanted = (
                "needs the point cleaning_active, which this collector does not have: nothing tells when it cleans"
            )
            yield Fault((*here, "cleaning"), wanted)


def _without_fan(path: KeyPath, suppress: Suppress) -> Iterator[Fault]:
    needs = "needs the point fan_running, which this collector does not have"
    if suppress.fan_stopped:
        yield Fault((*path, "fan_stopped"), f"{needs}: nothing tells that the fan stands still")
    if suppress.after_fan_start:
        yield Fault((*path, "after_fan_start"), f"{needs}: nothing tells that the fan has started")
