"""Hearing: cleaning as the signal tells it, else the dips of the header."""

from monitor.interpret.cycles import call as calls
from monitor.interpret.cycles import dips as pulses
from monitor.interpret.cycles import level as levels
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.dips import Dips
from monitor.interpret.cycles.finish import called
from monitor.interpret.cycles.where import Tracker, end
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningSettings


def hear(settings: CleaningSettings, state: Tracker, digest: Digest) -> tuple[Tracker, Cycle | None]:
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
        state, cycle = finish_call(settings, state, digest)
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
        return finish_call(settings, state, digest)
    if digest.end_s - (call.end_s or digest.end_s) > calls.LOST_S + 4.0 * state.level.period_s:
        return state._replace(call=None, ended_s=None, residual=None), None
    return state, None


def finish_call(settings: CleaningSettings, state: Tracker, digest: Digest) -> tuple[Tracker, Cycle | None]:
    """Report it, if it was seen whole and did something."""
    call = state.call
    if call is None:
        return state, None
    cycle = called(settings, state.level, state.dips, state.usual, call, digest)
    state = state._replace(call=None)
    return end(state, cycle) if cycle is not None else (state._replace(ended_s=None, residual=None), None)
