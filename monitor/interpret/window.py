"""Window: the lowest value and the mean over the last so many seconds of running.

Time counts only while the DP is trustworthy and the fan is not known to stand still, so a weekend's stop neither
empties the window nor fills it with zeros. The window is cut into buckets of a sixtieth of its length (or of one
sample, where samples are rarer): its far edge moves bucket by bucket, which bounds what must be remembered over
a restart. Nothing is claimed before a whole window of running has been seen once.
"""

import math
from typing import NamedTuple

BUCKETS = 60


class Bucket(NamedTuple):
    """A stretch of running: its lowest value, its integral (value × seconds) and how long it lasted, seconds.

    Attributes:
        until_s: its end, in seconds of running since the window began.
    """

    lowest: float = math.inf
    integral: float = 0.0
    length_s: float = 0.0
    until_s: float = 0.0


EMPTY = Bucket()


class Window(NamedTuple):
    """The window as it stands (a tuple, because one is made for every sample of every collector).

    Attributes:
        closed: finished buckets, oldest first, at most ``BUCKETS`` and one.
        closed_lowest, closed_integral, closed_s: what the full ones come to together.
        open: the bucket being filled.
        last_s, last: the sample before, None after a gap.
        is_full: whether a whole window of running has been seen.
    """

    closed: tuple[Bucket, ...] = ()
    closed_lowest: float = math.inf
    closed_integral: float = 0.0
    closed_s: float = 0.0
    open: Bucket = EMPTY
    last_s: float | None = None
    last: float = 0.0
    is_full: bool = False

    @property
    def lowest(self) -> float | None:
        """The lowest value in the window; None until it is full once."""
        return min(self.closed_lowest, self.open.lowest) if self.is_full else None

    @property
    def mean(self) -> float | None:
        """The mean by time over the window; None until it is full once."""
        if not self.is_full:
            return None
        return (self.closed_integral + self.open.integral) / (self.closed_s + self.open.length_s)


def add(window: Window, value: float, now_s: float, length_s: float) -> Window:
    """Take in one good sample; the sample before is taken to have held until now."""
    lowest, integral, filled_s, until_s = window.open
    begun_s = until_s
    if window.last_s is not None:
        passed_s = now_s - window.last_s
        integral += window.last * passed_s
        filled_s += passed_s
        until_s += passed_s
    bucket = Bucket(min(lowest, value), integral, filled_s, until_s)
    # Edges lie at whole sixtieths of the running time; a hair more, because seconds add up inexactly.
    if int(until_s * BUCKETS / length_s + 1e-6) > int(begun_s * BUCKETS / length_s + 1e-6):
        return _close(window, bucket, value, now_s, length_s)
    return Window(
        window.closed,
        window.closed_lowest,
        window.closed_integral,
        window.closed_s,
        bucket,
        now_s,
        value,
        window.is_full,
    )


def pause(window: Window) -> Window:
    """Nothing trustworthy to add, or the fan stands still: the time until the next sample does not count."""
    if window.last_s is None:
        return window
    return Window(
        window.closed,
        window.closed_lowest,
        window.closed_integral,
        window.closed_s,
        window.open,
        None,
        0.0,
        window.is_full,
    )


def _close(window: Window, bucket: Bucket, value: float, now_s: float, length_s: float) -> Window:
    edge_s = bucket.until_s - length_s + 1e-6
    closed = tuple([one for one in (*window.closed, bucket) if one.until_s > edge_s])
    lows, integrals, lengths, _ = zip(*closed, strict=True)
    return Window(
        closed=closed,
        closed_lowest=min(lows),
        closed_integral=math.fsum(integrals),
        closed_s=math.fsum(lengths),
        open=Bucket(lowest=value, until_s=bucket.until_s),
        last_s=now_s,
        last=value,
        is_full=window.is_full or edge_s >= 0.0,
    )
