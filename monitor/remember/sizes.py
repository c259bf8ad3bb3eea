"""Sizes: how many days of each tier fit into a history file, so that nobody learns it after years.

Measured by ``python -m tests.benchmarks years`` for ten collectors (one hour in ten has a bad reading). A yes/no
point takes 40 to 70 % of an analog one. The five points: DP, header pressure, flow, fan, cleaning.

                              bytes a row, DP    DP alone    five points
    90 days of steps of 10 s             59.5      462 MB       1,741 MB
    400 days of minutes                  37.7      217 MB         924 MB
    five years of minutes                37.7      994 MB       4,229 MB
    five years of hours                  61.0       27 MB         119 MB
"""

from collections.abc import Mapping

from monitor.remember.settings import StoreSettings
from monitor.remember.tier import FLOOR_S, Tier

#: Bytes of the file for each row, rounded up.
BYTES_A_ROW: Mapping[Tier, int] = {Tier.STEPS: 62, Tier.MINUTES: 41, Tier.HOURS: 66}


def fitting_s(settings: StoreSettings, points: int) -> Mapping[Tier, float]:
    """How far back each tier will go once the file is full or its rows have their age, seconds.

    Args:
        settings: what shall be kept, and in how many megabytes.
        points: how many points are recorded, of all collectors together.
    """
    left = settings.max_history_mb * 1e6
    fit_s = dict.fromkeys(Tier, 0.0)
    for tier, wanted_s in _by_rank(settings):
        a_second = points * BYTES_A_ROW[tier] / _length_s(settings)[tier]
        more_s = max(0.0, min(wanted_s - fit_s[tier], left / a_second if a_second else wanted_s))
        fit_s[tier] += more_s
        left -= more_s * a_second
    return fit_s


def _by_rank(settings: StoreSettings) -> list[tuple[Tier, float]]:
    """Who gets room first, and up to which age: the other way round than rows leave by size."""
    steps_s, minutes_s = settings.keep_history_s, settings.keep_minutes_s
    return [
        (Tier.HOURS, settings.keep_hours_s),
        (Tier.MINUTES, min(minutes_s, FLOOR_S[Tier.MINUTES])),
        (Tier.STEPS, min(steps_s, FLOOR_S[Tier.STEPS])),
        (Tier.MINUTES, minutes_s),
        (Tier.STEPS, steps_s),
    ]


def _length_s(settings: StoreSettings) -> Mapping[Tier, float]:
    return {Tier.STEPS: settings.history_step_s, Tier.MINUTES: 60.0, Tier.HOURS: 3600.0}
