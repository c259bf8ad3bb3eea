"""Rounding: numbers as the page gets them: three decimals, and none that JSON could not carry."""

import math


def rounded(value: float | None, decimals: int = 3) -> float | None:
    """The number with so many decimals; None where there is none, or it is no finite one."""
    if value is None or not math.isfinite(value):
        return None
    return round(value, decimals)
