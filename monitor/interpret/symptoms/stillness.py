"""Stillness: does the DP still have its noise?

A sound signal is never quite still; a plugged tap, a frozen gateway or a held value is. How still health can be
differs from one collector to the next (a coarse or slow transmitter repeats itself for minutes), so the stillest
stretch of each half day is learnt, and only what is much stiller is a sign. Plain variance collapse, and nothing
cleverer: one plugged line of two may even raise the noise, and that is not seen here.
"""

from typing import NamedTuple

from monitor.interpret.digest import Digest
from monitor.interpret.symptoms.minutes import Minute

#: Minutes over which the variance is taken; our choice.
MINUTES = 10


class Still(NamedTuple):
    """The DP's own unrest.

    Attributes:
        value: last good reading; ``seen_s`` when.
        since_s: since when it repeats itself exactly.
        longest_s: longest such time in the open stretch; ``calmest`` the lowest variance over ten minutes in it.
        variance: over the last ten minutes; None until they are there.
    """

    value: float | None = None
    seen_s: float = 0.0
    since_s: float = 0.0
    longest_s: float = 0.0
    calmest: float | None = None
    variance: float | None = None


BEGIN = Still()


def advance(state: Still, digest: Digest, *, settled: bool) -> Still:
    """Take in one parcel with a good DP."""
    last = digest.last_inh2o
    if last != state.value or digest.lowest_inh2o != digest.highest_inh2o:
        return tuple.__new__(Still, (last, digest.end_s, digest.end_s, *state[3:]))
    still_s = digest.end_s - state.since_s
    longest_s = still_s if settled and still_s > state.longest_s else state.longest_s
    return tuple.__new__(Still, (last, digest.end_s, state.since_s, longest_s, state.calmest, state.variance))


def minute_over(state: Still, trail: tuple[Minute, ...], *, learn: bool) -> Still:
    """Take the variance over the last ten minutes. ``learn``: the fan has settled."""
    if len(trail) < MINUTES:
        return state._replace(variance=None)
    variance = sum(m.variance for m in trail[-MINUTES:]) / MINUTES
    calmest = state.calmest
    if learn and (calmest is None or variance < calmest):
        calmest = variance
    return state._replace(variance=variance, calmest=calmest)


def broken(state: Still) -> Still:
    """The fan stopped, or something was not seen."""
    return Still(longest_s=state.longest_s, calmest=state.calmest)
