"""Curve resuming: what was read of a curve, taken up again after a time in which the daemon was down.

The scan clock stands still meanwhile, so that no delay counts what nobody watched. The curve went on: of two
readings that lie next to each other on that clock one may be of before a weekend and the other of after it, and
the step between them would be a torn bag. So the moments of before are put back by the time that went unseen, and
whoever reads them finds the hole that there was.
"""

import zlib

from monitor.interpret import gathering
from monitor.interpret.curve import CurveState, forecast_every_s
from monitor.interpret.cycles.tracker import Tracker
from monitor.interpret.symptoms.looking import Looking
from monitor.words import Instant

#: The daemon is started anew within so many seconds, and nothing was missed (our choice).
AT_ONCE_S = 15.0
#: The wall clock went back: nobody knows for how long, and not for a repair (our choice).
UNKNOWN_S = 900.0


def resumed(state: CurveState, now: Instant) -> CurveState:
    """The same curve at the moment at which it is read on."""
    if not state.gathering.samples:
        return state
    last = state.gathering.samples[-1]
    # By the wall clock, as the hours of the filters are: nothing else has seen that time.
    unseen_s = (now.utc_s - last.utc_s) - (now.mono_s - last.at_s)
    if 0.0 <= unseen_s <= AT_ONCE_S:
        return state
    back_s = unseen_s if unseen_s > 0.0 else UNKNOWN_S
    return state._replace(
        # A parcel of both sides would have the step within it.
        gathering=gathering.EMPTY,
        tracker=_tracker(state.tracker, back_s),
        looking=_looking(state.looking, back_s),
    )


def scattered(state: CurveState, name: str, collectors: int, utc_s: float) -> CurveState:
    """The same curve with its next forecast at a moment of its own.

    A forecast takes some milliseconds; a thousand at the same digest would hold everything up for seconds, then
    and every time after. They come within as many seconds as there are collectors, ten minutes at most.
    """
    phase_s = zlib.crc32(name.encode()) % min(max(1, collectors), 600)
    return state._replace(outlook_utc_s=utc_s - forecast_every_s(state) + phase_s)


def _tracker(tracker: Tracker, back_s: float) -> Tracker:
    level = tracker.level
    return tracker._replace(
        level=level._replace(at_s=_earlier(level.at_s, back_s)), seen_s=_earlier(tracker.seen_s, back_s)
    )


def _looking(looking: Looking, back_s: float) -> Looking:
    running = looking.running
    return looking._replace(running=running._replace(last_s=_earlier(running.last_s, back_s)))


def _earlier(moment_s: float | None, by_s: float) -> float | None:
    return None if moment_s is None else moment_s - by_s
