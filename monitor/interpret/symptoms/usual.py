"""Usual: what a figure mostly is at this collector, learnt slowly and forgotten slowly.

A figure's values are gathered over half a day of running and closed to their median; the usual value is the median
of the closed stretches of the last seven days of running. So half of a week must have changed before the usual
value follows, and a fault that began yesterday is still unlike the usual. Before the first stretch is closed, the
values of that stretch speak for themselves, from the sixth on. Time counts while the fan runs; a weekend's stop
neither ages nor dilutes anything.
"""

from statistics import median
from typing import NamedTuple

#: Values of a stretch that are kept; beyond that every second is dropped and every second taken (our choice).
MOST_SEEN = 12
#: Before so many values nothing is usual; our choice.
FEWEST = 6
#: A stretch with fewer values says nothing.
FEWEST_IN_STRETCH = 3
#: Stretches of 12 h of running that make seven days; our choice.
STRETCHES = 14


class Usual(NamedTuple):
    """One figure.

    Attributes:
        value: what it usually is; None until enough was seen.
        past: one value for each closed stretch, oldest first, at most ``STRETCHES``.
        seen: values of the open stretch, every ``stride``-th, at most ``MOST_SEEN``.
        skipped: how many came since the last one that was kept.
    """

    value: float | None = None
    past: tuple[float, ...] = ()
    seen: tuple[float, ...] = ()
    stride: int = 1
    skipped: int = 0


EMPTY = Usual()


def add(usual: Usual, value: float | None) -> Usual:
    """Take in one value; None is passed over."""
    if value is None:
        return usual
    known, past, seen, stride, skipped = usual
    if skipped + 1 < stride:
        return Usual(known, past, seen, stride, skipped + 1)
    seen = (*seen, round(value, 4))
    if len(seen) > MOST_SEEN:
        seen, stride = seen[::2], stride * 2
    if not past and len(seen) >= FEWEST:
        known = median(seen)
    return Usual(known, past, seen, stride, 0)


def close(usual: Usual) -> Usual:
    """End the stretch."""
    return closed_with(usual, median(usual.seen) if len(usual.seen) >= FEWEST_IN_STRETCH else None)


def closed_with(usual: Usual, value: float | None) -> Usual:
    """End the stretch with a value of one's own choosing; None: it says nothing."""
    if value is None:
        return usual if not usual.past else Usual(usual.value, usual.past)
    past = (*usual.past, value)[-STRETCHES:]
    # Of two stretches the elder is believed: a fault in the first days must not pull the usual half its way.
    return Usual(past[0] if len(past) == 2 else median(past), past)
