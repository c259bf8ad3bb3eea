"""Seeing: cleaning as the DP alone shows it, where nothing better tells of it."""

from monitor.interpret.cycles import dips as pulses
from monitor.interpret.cycles import fall as falls
from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.fall import Crest, Fall
from monitor.interpret.cycles.finish import fallen
from monitor.interpret.cycles.usual import Usual, refuse
from monitor.interpret.cycles.verdict import Verdict, judge, suspicious
from monitor.interpret.cycles.where import Tracker, end
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningSettings

SEEN_BEFORE_S = 15.0  #: A fall from a crest that was watched for less has an unknown begin.
SURE_PERIOD_S = 5.0  #: Sampled so often, no cleaning escapes the signal.
PAUSE_PULSES = 2.5  #: A fall may pause for so many pulse intervals ...
PAUSE_SHARE = 0.4  #: ... or, while it is not down yet, for that share of a usual cleaning.


def look(settings: CleaningSettings, state: Tracker, digest: Digest) -> tuple[Tracker, Cycle | None]:
    """Follow the DP where nothing better tells of cleaning."""
    level = state.level
    if digest.begin_s < state.resting_s or _is_told(settings, state, digest):
        return (state, None) if state.crest is None else (state._replace(crest=None, fall=None), None)
    if state.fall is not None:
        fall = falls.follow(state.fall, level.times[-1], level.values[-1], level.flows[-1], level.noise)
        state = state._replace(fall=fall)
        if falls.is_over(fall, level.period_s, _wait_s(settings, state.usual, fall), level.noise):
            return finish_fall(settings, state, fall, digest)
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


def finish_fall(
    settings: CleaningSettings, state: Tracker, fall: Fall, digest: Digest
) -> tuple[Tracker, Cycle | None]:
    """The DP has come to rest: judge what that was."""
    crest = Crest(state.level.mean, fall.last_s, fall.trough_s)
    state = state._replace(fall=None, crest=crest)
    if digest.cleaning is not None and not falls.is_between_samples(fall, state.level.period_s):
        return state._replace(residual=None), None
    verdict = judge(settings, state.usual, state.level, fall, _rise(state, fall))
    if verdict is Verdict.CLEANING:
        return end(state, fallen(settings, state.level, state.dips, fall, digest))
    usual = refuse(state.usual) if verdict is Verdict.UNUSUAL else state.usual
    return state._replace(usual=usual, residual=None), None


def _rise(state: Tracker, fall: Fall) -> float:
    """How fast the DP rose before the fall, inH2O/s, 0 or more."""
    if state.residual is None or state.ended_s is None or fall.begin_s - state.ended_s < 1.0:
        return max(0.0, state.level.rise)
    return max(0.0, (fall.peak - state.residual) / (fall.begin_s - state.ended_s))
