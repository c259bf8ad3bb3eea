"""Points: the points of a collector with their roles, and where each is read."""

from collections.abc import Iterator

from monitor.site import reference
from monitor.site.problems import KeyPath
from monitor.site.shape.annunciator import Written
from monitor.site.shape.points import Analog, DiscretePoint, FlowPoint, PressurePoint, Where
from monitor.site.shape.whole import Collector, SiteFile
from monitor.words import UNIT_OF_ROLE, Role, Table

AnyAnalog = PressurePoint | FlowPoint

#: A number counts as still only after this many scans (our choice).
FROZEN_SCANS = 10


def points_of(collector: Collector) -> Iterator[tuple[Role, Where]]:
    """Yield each point of a collector that the file gives."""
    for role in Role:
        point = getattr(collector, role.value)
        if point is not None:
            yield role, point


def all_points(file: SiteFile) -> Iterator[tuple[KeyPath, Where]]:
    """Yield each point of the site with its place in the file."""
    for name, collector in file.collectors.items():
        for role, point in points_of(collector):
            yield ("collectors", name, role.value), point


def address_of(point: Where | Written) -> tuple[Table, int] | None:
    """Return the table and protocol address of a point or output; None where the file does not say it rightly."""
    if point.reference_number is not None:
        try:
            return reference.parse(point.reference_number)
        except ValueError:
            return None
    if point.table is None or point.protocol_address is None:
        return None
    return point.table, point.protocol_address


def width_of(point: Where) -> int:
    """Return how many neighbouring entries a point takes."""
    encoding = point.encoding if isinstance(point, Analog | DiscretePoint) else None
    return encoding.width if encoding is not None else 1


def measuring_of(point: AnyAnalog, role: Role, pa_per_inh2o: float) -> tuple[float, float] | None:
    """Return the ends of the stated measuring range in inside units, the lower first; None where it is unknown."""
    if point.loop is not None:
        ends = (point.loop.at_4_ma, point.loop.at_20_ma)
    elif point.measuring_range is not None:
        ends = (point.measuring_range.low, point.measuring_range.high)
    else:
        return None
    low, high = sorted(end.to(UNIT_OF_ROLE[role], pa_per_inh2o) for end in ends)
    return low, high
