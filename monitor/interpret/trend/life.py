"""Life: what is remembered of a set of filters that was taken out."""

from collections.abc import Sequence
from typing import NamedTuple

from monitor.interpret.trend.days import Day
from monitor.interpret.trend.series import points
from monitor.interpret.trend.theil_sen import theil_sen


class Life(NamedTuple):
    """One finished life.

    Attributes:
        since_utc_s, until_utc_s: put in and taken out, Unix seconds.
        days: days of running that were seen of it.
        residual_inh2o: median of its last seven days of running; None where nothing was seen.
        slope_inh2o_d: its rise per day of running, over the whole of it; None likewise.
    """

    since_utc_s: float
    until_utc_s: float
    days: float
    residual_inh2o: float | None = None
    slope_inh2o_d: float | None = None


def ended(since_utc_s: float, until_utc_s: float, begin_run_d: float, days: Sequence[Day]) -> Life:
    """Give what is worth keeping of it."""
    seen = points(days)
    slope = theil_sen([shown[:2] for shown in seen], 0.8) if len(seen) > 1 else None
    last = sorted(shown.level for shown in seen[-7:])
    return Life(
        since_utc_s,
        until_utc_s,
        days=round(days[-1].run_d - begin_run_d, 2) if days else 0.0,
        residual_inh2o=last[len(last) // 2] if last else None,
        slope_inh2o_d=None if slope is None else round(slope.middle, 6),
    )
