"""Series of the places: through which link each collector is read, so that a lost link explains what goes with it.

Always one for each collector, so that joining it to another series never loses one.
"""

from collections.abc import Callable

from monitor.tell.exposition import Family, Kind, Sample
from monitor.tell.plant_view import PlantView


def collector_link(view: PlantView) -> Family:
    """The link of each collector."""
    samples = [Sample({"collector": name, "link": plan.link}, 1) for name, plan, _ in view.collectors()]
    text = "Always 1; the labels say through which link the DP of a collector is read."
    return Family("cakewatch_collector_link_info", Kind.GAUGE, text, samples)


FAMILIES: tuple[Callable[[PlantView], Family], ...] = (collector_link,)
