"""Permit settings: by which rule an hour counts as valid, and which range the permit names."""

from dataclasses import dataclass
from enum import StrEnum


class ValidHour(StrEnum):
    """When an hourly average counts. The permit decides; these are the rules it usually names.

    FOUR_QUARTERS: 40 CFR 60.13(h)(2): a valid point in each quarter in which the unit operates, with the clause
    for hours of maintenance. THREE_QUARTERS: 40 CFR 63.1965: three of four quarters. TWO_POINTS: 40 CFR 60.1825:
    two points in the hour.
    """

    FOUR_QUARTERS = "four-quarters"
    THREE_QUARTERS = "three-quarters"
    TWO_POINTS = "two-points"


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitSettings:
    """What the permit says of one collector.

    Attributes:
        valid_hour: the rule for a valid hourly average.
        low_inh2o, high_inh2o: the indicator range; a valid average outside of it is an excursion; None: no bound.
        average_h: over how many hours the averages run that are compared with the range, 1 to 24.
        least_available: share of operating hours that must be valid, 0 to 1 (0.75: 40 CFR 63.9025).
        keep_s: how long the records must be kept, seconds (five years: 40 CFR 63.10(b)(1)).
    """

    valid_hour: ValidHour = ValidHour.FOUR_QUARTERS
    low_inh2o: float | None = None
    high_inh2o: float | None = None
    average_h: int = 1
    least_available: float = 0.75
    keep_s: float = 5 * 365.25 * 86400.0
