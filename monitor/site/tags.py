"""Tags: those of the alarms that the file may leave to a default."""

from monitor.site.shape.links import Link
from monitor.site.shape.whole import Collector


def bad_signal_tag(collector: Collector) -> str:
    """Return the tag of the alarm for a DP that cannot be trusted."""
    return collector.bad_signal.tag or f"{collector.dp.tag}-BAD"


def lost_tag(name: str, link: Link) -> str:
    """Return the tag of the alarm of a lost link."""
    return link.lost.tag or f"{name}-LOST"
