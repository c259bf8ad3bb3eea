"""Valid hour: does the average of an hour count, by the rule the permit names?

The definition is not the same everywhere. 40 CFR 60.13(h)(2): (i) a full operating hour needs one valid point in
each of its four quarters; (ii) a partial one, in each quarter in which the unit operates; (iii) an hour of
maintenance or quality assurance, where the unit operates in two quarters or more, two valid points "separated by
at least 15 minutes", and in one quarter, one. (iv), the failed daily calibration, is of gas analysers and is not
judged here. 40 CFR 63.1965: measured values in three of the four quarters. 40 CFR 60.1825: two points in the
hour. The last two speak of values measured in the hour, whether or not the unit operates all the time.
"""

from typing import NamedTuple

from monitor.report.permit.hour import Four, Lack
from monitor.report.permit.settings import ValidHour

#: 40 CFR 60.13(h)(2)(iii)(A).
APART_S = 900.0


class Points(NamedTuple):
    """The good readings of one hour.

    Attributes:
        quarters: those taken while the unit operated, in each quarter.
        measured: the same, of operating and of standing.
        apart_s: how far the first and the last of the former are apart at least; 0 where there are not two.
    """

    quarters: Four
    measured: Four
    apart_s: float = 0.0


def lack(rule: ValidHour, points: Points, operating: tuple[int, ...], *, is_maintenance: bool) -> Lack:
    """What an hour of operation lacks to be valid.

    Args:
        rule: as the permit names it.
        points: its good readings, without those taken under maintenance.
        operating: the numbers, 0 to 3, of the quarters in which the unit operates; one or more.
        is_maintenance: the monitor was under maintenance or quality assurance in some part of the hour.
    """
    if sum(points.quarters) == 0:
        return Lack.NO_POINT_IN_OPERATION
    match rule:
        case ValidHour.FOUR_QUARTERS if is_maintenance:
            return _in_maintenance(points, operating)
        case ValidHour.FOUR_QUARTERS:
            return Lack.NOTHING if all(points.quarters[one] for one in operating) else Lack.QUARTER_EMPTY
        case ValidHour.THREE_QUARTERS:
            filled = sum(1 for one in points.measured if one)
            return Lack.NOTHING if filled >= 3 else Lack.TOO_FEW_QUARTERS
        case ValidHour.TWO_POINTS:
            return Lack.NOTHING if sum(points.measured) >= 2 else Lack.TOO_FEW_POINTS


def _in_maintenance(points: Points, operating: tuple[int, ...]) -> Lack:
    if len(operating) < 2:
        return Lack.NOTHING
    if sum(points.quarters) < 2:
        return Lack.TOO_FEW_POINTS
    return Lack.NOTHING if points.apart_s >= APART_S else Lack.POINTS_TOO_CLOSE
