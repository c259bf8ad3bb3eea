"""Tracker: where the collector is in its cycle, one digest after another.

The cleaning signal tells begin and end best. Without it the dips of the header do, where it is read every two
seconds or more often and has shown pulses before. Without either the DP alone does: see ``fall.py`` and
``verdict.py``. Where samples come more than five seconds apart a cleaning may hide between two of them, so there
the DP is asked even if the signal says nothing.

A cycle is reported once its residual DP is known: half a minute after the end of the signal; without it after 40 s
without a new low, two sample periods, two and a half pulse intervals, a third of the cleaning, or 0.4 of a usual
cleaning where it has not come down to the usual residual, whichever is longest, but never after more than five
minutes (or two sample periods).

What cannot be seen: timed cleaning without pauses has no cycles at all; timed rounds that pull the DP down by
less than its own unrest show in the signal or the header only; a cleaning inside a hole of the data is not made
up; without the flow, a damper that closes from the usual peak to the usual residual is taken for a cleaning.
"""

from monitor.interpret.cycles import dips as pulses
from monitor.interpret.cycles import level as levels
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.dips import Dips
from monitor.interpret.cycles.hearing import finish_call, hear
from monitor.interpret.cycles.seeing import finish_fall, look
from monitor.interpret.cycles.where import BEGIN, Tracker
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningSettings

__all__ = ["BEGIN", "Tracker", "advance"]

STANDING_INH2O = 0.15  #: Below that, or below the share of the usual peak, no air is moved.
STANDING_SHARE = 0.2
START_UP_S = 60.0  #: So long after the fan started the DP says nothing of cake.
AFTERMATH_S = 60.0  #: So long after a cleaning nothing is learned of the noise.


def advance(settings: CleaningSettings, state: Tracker, digest: Digest) -> tuple[Tracker, Cycle | None]:
    """Take in one digest; and the cycle that it completed, if it did."""
    dips = state.dips
    if digest.header_psi is not None or dips.last_psi is not None:
        dips = pulses.follow(dips, digest, settings.pulse_every_s)
    if digest.fan is False:
        return _fan_off(settings, state._replace(dips=dips), digest)
    if digest.good:
        state = _measure(state, dips, digest)
        if _is_standing(settings, state):
            return _stand(state, digest), None
    else:
        state = state._replace(dips=dips, whole=False)
    state, cycle = hear(settings, state, digest)
    if digest.good and cycle is None and state.call is None:
        state, cycle = look(settings, state, digest)
    return Tracker(_since(state), *state[1:-1], digest.end_s), cycle


def _measure(state: Tracker, dips: Dips, digest: Digest) -> Tracker:
    """Take in the DP, anew after a hole."""
    level = state.level
    if levels.is_hole(level, digest):
        fresh = levels.follow(levels.forget(level), digest, quiet=False)
        return state._replace(
            level=fresh, dips=dips, crest=None, fall=None, ended_s=None, residual=None, whole=True
        )
    ended_s = state.ended_s
    quiet = state.fall is None and state.call is None and digest.begin_s >= state.resting_s
    if quiet and ended_s is not None:
        quiet = digest.begin_s - ended_s > AFTERMATH_S
    missing = digest.bad > 0 or digest.begin_s - (level.at_s or 0.0) > 1.7 * level.period_s > 0.0
    level = levels.follow(level, digest, quiet=quiet)
    return Tracker(
        None, state.last, level, dips, state.usual, *state[5:-2], state.whole and not missing, state.seen_s
    )


def _is_standing(settings: CleaningSettings, state: Tracker) -> bool:
    """Whether the DP is so low that no air is moved."""
    usual = state.usual.peak if state.usual.is_known else settings.start_inh2o
    if usual is None:
        usual = state.crest.top if state.crest is not None else 0.0
    return state.level.values[-1] < max(STANDING_INH2O, STANDING_SHARE * usual)


def _stand(state: Tracker, digest: Digest) -> Tracker:
    """The fan stands still: whatever went on is broken off."""
    return Tracker(
        last=state.last,
        level=levels.forget(state.level)._replace(at_s=digest.end_s),
        dips=state.dips,
        usual=state.usual,
        seen_s=digest.end_s,
        resting_s=digest.end_s + max(START_UP_S, 2.0 * state.level.period_s),
    )


def _fan_off(settings: CleaningSettings, state: Tracker, digest: Digest) -> tuple[Tracker, Cycle | None]:
    """The fan was stopped: a cleaning that was over, but not told yet, is told now."""
    cycle = None
    if state.call is not None and state.call.end_s is not None and state.call.seen:
        state, cycle = finish_call(settings, state, digest)
    elif state.fall is not None and state.fall.seen > 1:
        state, cycle = finish_fall(settings, state, state.fall, digest)
    return _stand(state, digest), cycle


def _since(state: Tracker) -> float | None:
    """Since when it is being cleaned, as far as can be told."""
    if state.call is not None:
        return state.call.begin_s if state.call.end_s is None else None
    return state.fall.begin_s if state.fall is not None else None
