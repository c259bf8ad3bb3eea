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

from typing import NamedTuple

from monitor.interpret.cycles import call as calls
from monitor.interpret.cycles import dips as pulses
from monitor.interpret.cycles import fall as falls
from monitor.interpret.cycles import level as levels
from monitor.interpret.cycles.call import Call
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.dips import Dips
from monitor.interpret.cycles.fall import Crest, Fall
from monitor.interpret.cycles.finish import called, fallen
from monitor.interpret.cycles.level import Level
from monitor.interpret.cycles.usual import Usual, learn, refuse
from monitor.interpret.cycles.verdict import Verdict, judge, suspicious
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningSettings

STANDING_INH2O = 0.15  #: Below that, or below the share of the usual peak, no air is moved.
STANDING_SHARE = 0.2
START_UP_S = 60.0  #: So long after the fan started the DP says nothing of cake.
SEEN_BEFORE_S = 15.0  #: A fall from a crest that was watched for less has an unknown begin.
SURE_PERIOD_S = 5.0  #: Sampled so often, no cleaning escapes the signal.
PAUSE_PULSES = 2.5  #: A fall may pause for so many pulse intervals ...
PAUSE_SHARE = 0.4  #: ... or, while it is not down yet, for that share of a usual cleaning.
AFTERMATH_S = 60.0  #: So long after a cleaning nothing is learned of the noise.


class Tracker(NamedTuple):
    """Where the collector is in its cycle.

    Attributes:
        cleaning_since_s: scan second since which it is being cleaned; None while it is not, or nobody can tell.
        last: the newest whole cycle.
        level, dips, usual: what is known of the DP, of the header, and of the last cleanings.
        crest, fall, call: where it is now; see there.
        ended_s, residual: end of the cleaning before and the DP there; None where not seen, or disturbed since.
        resting_s: until then nothing is concluded from a fall.
        whole: whether all readings since that end were good and none was missing.
        seen_s: end of the newest digest of any kind.
    """

    cleaning_since_s: float | None = None
    last: Cycle | None = None
    level: Level = levels.NOTHING
    dips: Dips = pulses.NONE
    usual: Usual = Usual()
    crest: Crest | None = None
    fall: Fall | None = None
    call: Call | None = None
    ended_s: float | None = None
    residual: float | None = None
    resting_s: float = 0.0
    whole: bool = True
    seen_s: float | None = None


BEGIN = Tracker()


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
    state, cycle = _hear(settings, state, digest)
    if digest.good and cycle is None and state.call is None:
        state, cycle = _look(settings, state, digest)
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
        state, cycle = _finish_call(settings, state, digest)
    elif state.fall is not None and state.fall.seen > 1:
        state, cycle = _finish_fall(settings, state, state.fall, digest)
    return _stand(state, digest), cycle


# ---------------------------------------------------------------- by signal or by dips


def _hear(settings: CleaningSettings, state: Tracker, digest: Digest) -> tuple[Tracker, Cycle | None]:
    """Follow what the signal says, else the dips."""
    now = digest.cleaning
    by_signal = now is not None
    if now is None:
        now = pulses.calling(state.dips, digest.end_s, settings.pulse_every_s)
    call = state.call
    if call is None:
        if not now or (not by_signal and _is_late(state)):
            return state, None
        return _called_for(state, digest, by_signal=by_signal), None
    if _is_lost(state, digest):
        known = call._replace(known=False) if now else None
        return state._replace(call=known), None
    if now and call.end_s is None:
        return state._replace(call=call._replace(last_s=digest.begin_s)), None
    if now:
        state, cycle = _finish_call(settings, state, digest)
        return _called_for(state, digest, by_signal=by_signal), cycle
    return _after_call(settings, state, digest)


def _is_late(state: Tracker) -> bool:
    """Whether the dips are believed only since a while after the cleaning began: the DP shall tell of this one."""
    return state.fall is not None or not state.level.times or state.dips.first_s <= state.level.times[0]


def _is_lost(state: Tracker, digest: Digest) -> bool:
    """Whether so long nothing was read that this may be another cleaning."""
    away_s = digest.begin_s - (state.seen_s if state.seen_s is not None else digest.begin_s)
    return away_s < 0.0 or away_s > max(levels.HOLE_S, levels.HOLE_PERIODS * state.level.period_s)


def _called_for(state: Tracker, digest: Digest, *, by_signal: bool) -> Tracker:
    """A cleaning begins."""
    seen_s = state.seen_s
    known = seen_s is not None and not _is_lost(state, digest)
    if by_signal:
        begin_s = 0.5 * (seen_s + digest.end_s) if known and seen_s is not None else digest.begin_s
    else:
        begin_s = state.dips.first_s
    call = calls.begin(
        state.level, begin_s, by_signal=by_signal, pulses=_dips_before(state.dips, begin_s), known=known
    )
    return state._replace(call=call._replace(last_s=digest.begin_s), crest=None, fall=None)


def _dips_before(dips: Dips, begin_s: float) -> int:
    """How many dips were counted before that moment, a few seconds more or less."""
    return dips.total - (dips.group if dips.group and dips.first_s >= begin_s - 6.0 else 0)


def _after_call(settings: CleaningSettings, state: Tracker, digest: Digest) -> tuple[Tracker, Cycle | None]:
    """The signal is off (or the dips are over): wait for the residual DP."""
    call = state.call
    if call is None:
        return state, None
    if call.end_s is None:
        end_s = 0.5 * (call.last_s + digest.begin_s) if call.by_signal else state.dips.at_s + 1.0
        call = call._replace(end_s=max(end_s, call.begin_s))
        later = [pair for pair in zip(state.level.times, state.level.values, strict=True) if pair[0] > end_s]
        for moment, value in later:
            call = calls.settle(call, moment, value)
    elif digest.good:
        call = calls.settle(call, state.level.times[-1], state.level.values[-1])
    state = state._replace(call=call)
    if calls.is_settled(call, digest.end_s, state.level.period_s):
        return _finish_call(settings, state, digest)
    if digest.end_s - (call.end_s or digest.end_s) > calls.LOST_S + 4.0 * state.level.period_s:
        return state._replace(call=None, ended_s=None, residual=None), None
    return state, None


def _finish_call(settings: CleaningSettings, state: Tracker, digest: Digest) -> tuple[Tracker, Cycle | None]:
    """Report it, if it was seen whole and did something."""
    call = state.call
    if call is None:
        return state, None
    cycle = called(settings, state.level, state.dips, state.usual, call, digest)
    state = state._replace(call=None)
    return _end(state, cycle) if cycle is not None else (state._replace(ended_s=None, residual=None), None)


# ---------------------------------------------------------------- by the DP alone


def _look(settings: CleaningSettings, state: Tracker, digest: Digest) -> tuple[Tracker, Cycle | None]:
    """Follow the DP where nothing better tells of cleaning."""
    level = state.level
    if digest.begin_s < state.resting_s or _is_told(settings, state, digest):
        return (state, None) if state.crest is None else (state._replace(crest=None, fall=None), None)
    if state.fall is not None:
        fall = falls.follow(state.fall, level.times[-1], level.values[-1], level.flows[-1], level.noise)
        state = state._replace(fall=fall)
        if falls.is_over(fall, level.period_s, _wait_s(settings, state.usual, fall), level.noise):
            return _finish_fall(settings, state, fall, digest)
        return state, None
    limit = suspicious(settings, state.usual, level)
    crest = falls.watch(state.crest, level, limit)
    if level.mean >= crest.top - limit or level.values[-1] >= crest.top - limit:
        return state._replace(crest=crest), None
    if crest.at_s - crest.since_s < SEEN_BEFORE_S:
        return state._replace(crest=None, ended_s=None, residual=None), None
    return state._replace(crest=None, fall=falls.begin(crest, level)), None


def _wait_s(settings: CleaningSettings, usual: Usual, fall: Fall) -> float:
    """How long the DP must rest: longer while it has not come down to the usual residual."""
    wait_s = PAUSE_PULSES * settings.pulse_every_s
    if usual.is_known and fall.low > usual.residual + 0.2 * (usual.peak - usual.residual):
        return max(wait_s, PAUSE_SHARE * usual.length_s)
    return wait_s


def _is_told(settings: CleaningSettings, state: Tracker, digest: Digest) -> bool:
    """Whether the signal or the dips would have told of any cleaning."""
    if digest.cleaning is not None:
        return state.level.period_s <= SURE_PERIOD_S
    return state.fall is None and pulses.calling(state.dips, digest.end_s, settings.pulse_every_s) is not None


def _finish_fall(
    settings: CleaningSettings, state: Tracker, fall: Fall, digest: Digest
) -> tuple[Tracker, Cycle | None]:
    """The DP has come to rest: judge what that was."""
    crest = Crest(state.level.mean, fall.last_s, fall.trough_s)
    state = state._replace(fall=None, crest=crest)
    if digest.cleaning is not None and not falls.is_between_samples(fall, state.level.period_s):
        return state._replace(residual=None), None
    verdict = judge(settings, state.usual, state.level, fall, _rise(state, fall))
    if verdict is Verdict.CLEANING:
        return _end(state, fallen(settings, state.level, state.dips, fall, digest))
    usual = refuse(state.usual) if verdict is Verdict.UNUSUAL else state.usual
    return state._replace(usual=usual, residual=None), None


def _rise(state: Tracker, fall: Fall) -> float:
    """How fast the DP rose before the fall, inH2O/s, 0 or more."""
    if state.residual is None or state.ended_s is None or fall.begin_s - state.ended_s < 1.0:
        return max(0.0, state.level.rise)
    return max(0.0, (fall.peak - state.residual) / (fall.begin_s - state.ended_s))


# ---------------------------------------------------------------- both


def _end(state: Tracker, cycle: Cycle) -> tuple[Tracker, Cycle]:
    """Report a cycle, and begin the next."""
    if state.ended_s is not None:
        filtration_s = cycle.begin_s - state.ended_s
        rise = None
        if state.residual is not None and filtration_s > max(45.0, 2.0 * state.level.period_s):
            rise = (cycle.peak_inh2o - state.residual) / filtration_s * 60.0
        cycle = cycle._replace(cycle_s=cycle.end_s - state.ended_s, rise_inh2o_min=rise, whole=state.whole)
    else:
        cycle = cycle._replace(whole=False)
    return state._replace(
        last=cycle,
        usual=learn(state.usual, cycle),
        ended_s=cycle.end_s,
        residual=cycle.residual_inh2o,
        whole=True,
    ), cycle


def _since(state: Tracker) -> float | None:
    """Since when it is being cleaned, as far as can be told."""
    if state.call is not None:
        return state.call.begin_s if state.call.end_s is None else None
    return state.fall.begin_s if state.fall is not None else None
