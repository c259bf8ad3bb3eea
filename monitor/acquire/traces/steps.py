"""Steps: how far the readings of a column usually lie apart."""

from collections.abc import Sequence
from statistics import median


def usual_step_s(utc_s: Sequence[float]) -> float | None:
    """The median distance of neighbouring moments, seconds; None where there are fewer than two."""
    apart = [later - earlier for earlier, later in zip(utc_s, utc_s[1:], strict=False) if later > earlier]
    return median(apart) if apart else None
