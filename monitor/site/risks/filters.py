"""Filters: risks of limits that say nothing, and of records that will not be there when they are asked for."""

from collections.abc import Iterator

from monitor.remember.sizes import fitting_s
from monitor.remember.tier import Tier
from monitor.scan.settings import CollectorPlan
from monitor.site.durations import as_duration
from monitor.site.plan import SitePlan
from monitor.site.problems import KeyPath
from monitor.site.risks.risk import Risk

DAY_S = 86400.0


def risks(path: KeyPath, plan: CollectorPlan, site: SitePlan) -> Iterator[Risk]:
    """Yield what will not do what it looks like."""
    curve = plan.curve
    if curve is not None:
        limit, stop = curve.filters.change_out_inh2o, curve.cleaning.stop_inh2o
        if limit is not None and stop is not None and limit <= stop:
            yield Risk(
                (*path, "filters", "change_out"),
                f"is not above the stop set point of cleaning ({stop:.4g} inH2O), where the residual DP of sound "
                f"filters lies: the limit is reached from the first day",
            )
    yield from _records((*path, "permit"), plan.name, site)


def _records(path: KeyPath, name: str, site: SitePlan) -> Iterator[Risk]:
    permit = site.permits.get(name)
    if permit is None:
        return
    points = sum(len(one.points) for one in site.collectors.values())
    kept_s = min(fitting_s(site.store, points)[Tier.HOURS], site.store.keep_hours_s)
    if kept_s < permit.keep_s:
        yield Risk(
            (*path, "keep"),
            f"asks for {as_duration(permit.keep_s)}, and the store keeps hours for about {kept_s / DAY_S:.0f} d "
            f"(keep_hours {as_duration(site.store.keep_hours_s)}, max_history {site.store.max_history_mb} MB for "
            f"{points} points): raise them, or bring the records elsewhere in time",
        )
