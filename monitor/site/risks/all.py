"""All: every risk of a site, in no order."""

from collections.abc import Iterator

from monitor.site.plan import SitePlan
from monitor.site.risks import (
    annunciator,
    bands,
    commands,
    filters,
    links,
    lost,
    order,
    outlets,
    phone,
    points,
    sawtooth,
    suppression,
)
from monitor.site.risks.risk import Risk
from monitor.site.shape.whole import SiteFile


def risks(shape: SiteFile, plan: SitePlan) -> Iterator[Risk]:
    """Yield every risky setting of a site that breaks no rule."""
    yield from links.risks(plan)
    yield from lost.risks(plan)
    yield from outlets.risks(plan)
    yield from commands.risks(shape, plan)
    yield from annunciator.risks(plan)
    yield from phone.risks(plan)
    for name, collector in plan.collectors.items():
        path = ("collectors", name)
        own = shape.collectors[name]
        yield from points.risks(path, own, collector)
        yield from bands.risks(path, own, collector, plan.pa_per_inh2o)
        yield from order.risks(path, collector)
        yield from sawtooth.risks(path, collector)
        yield from suppression.risks(path, collector)
        yield from filters.risks(path, collector, plan)
