"""Running: how long the set of filters has been at work.

Filters age while air goes through them. Time counts while the fan runs; where nobody says whether it does, while
the DP stands above 0.2 inH2O. What went unseen (the daemon was off, the device silent) counts as running where it
ran before and after and the hole is short, else at the share of the time at which it usually runs.
"""

from collections.abc import Callable
from typing import NamedTuple

from monitor.interpret.digest import Digest

#: Air goes through the filters above this DP, inH2O (our choice; a transmitter's zero drifts by less).
FLOWING_INH2O = 0.2
#: Two digests further apart than this have a hole between them, seconds.
HOLE_S = 600.0
#: A hole up to this length between two moments of running was running, seconds (our choice).
SHORT_HOLE_S = 6 * 3600.0
#: So long must the collector stand still, or go unseen, for somebody to put in new filters, seconds (our choice).
STOP_S = 3600.0


class Meter(NamedTuple):
    """The counter of the hours run.

    Attributes:
        last_s, last_utc_s: end of the last digest on both clocks; None before the first.
        run_s: seconds of running since the first digest.
        idle_s: how long it has stood still or gone unseen, seconds; 0 while it runs.
        ran: whether it ran at the last digest.
    """

    last_s: float | None = None
    last_utc_s: float = 0.0
    run_s: float = 0.0
    idle_s: float = 0.0
    ran: bool = False


def measure(meter: Meter, digest: Digest, share: Callable[[], float]) -> Meter:
    """Count on to the end of the digest; ``share`` says at what share of the time it usually runs."""
    begin_s, end_s, utc_s, good = digest[0], digest[1], digest[2], digest[3]
    last_s, last_utc_s, run_s, idle_s, ran = meter
    fan = digest.fan
    runs = fan if fan is not None else (digest.mean_inh2o > FLOWING_INH2O if good else ran)
    span_s = end_s - begin_s
    # The scan clock stands still while the daemon is off, the wall clock may be set: the longer one has seen it.
    hole_s = 0.0 if last_s is None else max(begin_s - last_s, utc_s - last_utc_s - span_s, 0.0)
    if hole_s <= HOLE_S:
        if runs:
            return Meter(end_s, utc_s, run_s + span_s + hole_s, 0.0, True)
        return Meter(end_s, utc_s, run_s, idle_s + span_s + hole_s, False)
    is_short = runs and ran and hole_s <= SHORT_HOLE_S
    run_s += (span_s if runs else 0.0) + hole_s * (1.0 if is_short else share())
    return Meter(end_s, utc_s, run_s, 0.0 if runs else idle_s + hole_s, runs)


def possible_stop_s(before: Meter, after: Meter, digest: Digest) -> float:
    """How long it had stood still when it came to run at this digest, or may have, unseen; 0 where it did not."""
    if not after.ran or before.last_s is None:
        return 0.0
    span_s = digest.end_s - digest.begin_s
    hole_s = max(digest.begin_s - before.last_s, digest.end_utc_s - before.last_utc_s - span_s)
    return before.idle_s + (hole_s if hole_s > HOLE_S else 0.0)
