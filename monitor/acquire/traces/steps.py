"""Steps: how far the readings of a column usually lie apart."""

from collections.abc import Sequence
from itertools import pairwise
from statistics import median


def usual_step_s(utc_s: Sequence[float]) -> float | None:
    """The median distance of neighbouring moments, seconds; None where there are fewer than two."""
    apart = [later - earlier for earlier, later in pairwise(utc_s) if later > earlier]
    return median(apart) if apart else None
