"""Running: how long the fan has been running, as far as the readings tell.

Where no point says whether it runs, it is taken to stand while the DP is next to nothing. A collector without a
fan point whose tap hose comes off therefore looks as if it stood; nothing in the DP alone can tell the two apart.
"""

from typing import NamedTuple

from monitor.interpret.digest import Digest

#: The first minutes after a start belong to nobody: the cake is loose, the flow comes up. Our choice.
START_UP_S = 300.0
#: Longer between two parcels and something was not seen: two of the slowest usual scans of a minute. Our choice.
HOLE_S = 120.0
#: Without a fan point: the fan stands where the DP is below this, and below a fifth of its usual. Our choice.
STANDING_INH2O = 0.3
STANDING_SHARE = 0.2
#: A stop so long leaves time to open the collector and change something inside. Our choice.
REPAIR_S = 1800.0


class Running(NamedTuple):
    """The fan, and the time it has run.

    Attributes:
        fan: whether it runs, as told or as taken from the DP; None before anything is known.
        last_s: end of the parcel before.
        since_s: since when it runs, or since when it was first seen running; None while it stands.
        stopped_s: moment at which it stopped; None while it runs.
        ran_s: seconds of running that were seen, all in all.
        off_inh2o: DP while it stood, the last time a minute of that was seen.
        settled: whether it has run long enough to be judged.
        resumed: whether this parcel follows a stop or a hole: what came before it does not touch it.
        long_stop: whether the last stop (or hole) lasted long enough for a repair.
    """

    fan: bool | None = None
    last_s: float | None = None
    since_s: float | None = None
    stopped_s: float | None = None
    ran_s: float = 0.0
    off_inh2o: float | None = None
    settled: bool = False
    resumed: bool = True
    long_stop: bool = False


BEGIN = Running()


def advance(state: Running, digest: Digest, usual_dp_inh2o: float | None) -> Running:
    """Take in one parcel."""
    now_s, last_s = digest.end_s, state.last_s
    passed_s = now_s - last_s if last_s is not None else -1.0
    hole = passed_s < 0.0 or last_s is None or not 0.0 <= digest.begin_s - last_s <= HOLE_S
    fan = digest.fan
    if fan is None:
        fan = _seems_to_run(state.fan, digest, usual_dp_inh2o)
    if not fan:
        return _standing(state, digest, usual_dp_inh2o)
    since_s = state.since_s
    if hole or since_s is None:
        return _started(state, now_s, hole)
    settled = now_s - since_s >= START_UP_S
    return tuple.__new__(
        Running,
        (True, now_s, since_s, None, state.ran_s + passed_s, state.off_inh2o, settled, False, state.long_stop),
    )


def _seems_to_run(before: bool | None, digest: Digest, usual_dp_inh2o: float | None) -> bool | None:
    if not digest.good:
        return before
    limit = STANDING_INH2O if usual_dp_inh2o is None else max(STANDING_INH2O, STANDING_SHARE * usual_dp_inh2o)
    return digest.mean_inh2o >= limit


def _started(state: Running, now_s: float, hole: bool) -> Running:
    """The fan runs, and a moment ago it did not, or nobody saw it."""
    if state.stopped_s is not None:
        long_stop = now_s - state.stopped_s >= REPAIR_S
    else:
        long_stop = state.last_s is not None and abs(now_s - state.last_s) >= REPAIR_S
    # After a hole nobody knows whether the fan had stood in it: a short one is taken for a mere loss of readings.
    seen = hole and state.since_s is not None and not long_stop and now_s >= state.since_s
    since_s = state.since_s if seen else now_s
    settled = seen and state.settled
    return Running(True, now_s, since_s, None, state.ran_s, state.off_inh2o, settled, True, long_stop)


def _standing(state: Running, digest: Digest, usual_dp_inh2o: float | None) -> Running:
    stopped_s = state.stopped_s
    if stopped_s is None or digest.end_s < stopped_s:
        stopped_s = digest.end_s
    off = state.off_inh2o
    # Only a fan that is known to stand says something of the zero; one taken from the DP would prove itself.
    if digest.fan is False and digest.good and digest.end_s - stopped_s >= 60.0:
        off = digest.mean_inh2o
    fan = None if digest.fan is None and usual_dp_inh2o is None else False
    return Running(fan, digest.end_s, None, stopped_s, state.ran_s, off, False, True, state.long_stop)
