"""Looking: what is usual, and what is not, one digest after another.

    digest → running? → header, cleaning, stillness → minute → usual values, steps, signs

Between two minutes only sums and the newest moment are kept, so that a digest costs a few microseconds.
"""

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.tracker import Tracker
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningSettings
from monitor.interpret.symptoms import (
    baselines,
    cleanings,
    headers,
    minutely,
    minutes,
    running,
    showing,
    steps,
    stillness,
)
from monitor.interpret.symptoms.cleanings import Cleaning
from monitor.interpret.symptoms.headers import Header
from monitor.interpret.symptoms.memory import Looking
from monitor.interpret.symptoms.running import Running
from monitor.interpret.symptoms.steps import Around
from monitor.interpret.symptoms.symptoms import Symptoms

__all__ = ["BEGIN", "Looking", "advance", "symptoms"]

BEGIN = Looking()
#: A cleaning must have had so many pulses before the DP is said not to answer them; our choice.
ANSWER_PULSES = 6
ANSWER_SHARE = 0.2
ANSWER_INH2O = 0.08


def symptoms(state: Looking) -> Symptoms:
    """What shows now (without ``reason``, ``others`` and the trend's slope, which others know)."""
    return showing.symptoms(state)


def advance(
    settings: CleaningSettings, state: Looking, digest: Digest, tracker: Tracker, cycle: Cycle | None
) -> Looking:
    """Take in one digest, where the tracker stands after it, and the cycle that it completed, if it did."""
    usual = state.usual
    ran = running.advance(state.running, digest, usual.dp.value)
    if not ran.fan:
        return _standing(state, ran)
    if ran.resumed:
        state = _resumed(state, ran)
    header = state.header
    if digest.header_psi is not None:
        header = headers.advance(settings, header, digest, usual.header.value, usual.dip.value)
    if not digest.good:
        return state._replace(running=ran, header=header)
    if state.minute.begin_s is not None and digest.begin_s - state.still.seen_s > running.HOLE_S:
        state = _broken(state)
    state = _seen(settings, state, ran, header, digest, tracker)
    if cycle is not None:
        state = minutely.with_cycle(state, cycle)
    if minutes.full(state.minute, digest.end_s):
        return minutely.minute_over(settings, state, digest.end_s)
    return state


def _seen(
    settings: CleaningSettings, state: Looking, ran: Running, header: Header, digest: Digest, tracker: Tracker
) -> Looking:
    """Take in a good DP."""
    countable = digest.good + digest.bad >= headers.COUNTABLE
    before, answers = state.cleaning, state.answers
    is_called = cleanings.called(settings, digest, tracker, header.dip_at_s if countable else None)
    recent = state.steps.recent
    cleaning = cleanings.advance(settings, before, digest, is_called, recent[-1] if recent else None)
    if is_called or before.since_s is not None:
        header = _counted(settings, header, before, cleaning, countable)
        answers = _answers(settings, state, cleaning)
    kept = steps.kept(state.steps, digest.mean_inh2o, is_called)
    if ran.settled and steps.may_be(kept) and state.usual.noise.value is not None:
        kept = steps.looked_at(kept, digest.end_s, _around(settings, state, digest, countable))
    minute = minutes.gather(state.minute, digest, is_called)
    still = stillness.advance(state.still, digest, settled=ran.settled)
    return tuple.__new__(
        Looking,
        (
            *state[:2], ran, minute, state.trail, state.usual, header, cleaning, kept, still,
            *state[10:13], answers, *state[14:16], countable,
        ),
    )  # fmt: skip


def _around(settings: CleaningSettings, state: Looking, digest: Digest, countable: bool) -> Around:
    witness = digest.cleaning is not None or (countable and digest.header_psi is not None)
    usual, last = state.usual, state.trail[-1] if state.trail else None
    noise = usual.noise.value if usual.noise.value is not None else 0.0
    rise = showing.present_rise(state)
    flow = last.flow_cfm if last is not None else None
    parcel_s = digest.end_s - (state.running.last_s or digest.begin_s)
    pulse = baselines.pulse_inh2o(usual, settings.pulse_every_s)
    return Around(baselines.floor_inh2o(usual), rise, flow, noise, parcel_s, witness, pulse)


def _standing(state: Looking, ran: Running) -> Looking:
    """The fan stands still: nothing is judged, nothing learnt."""
    if state.running.since_s is None and not state.trail:
        return state._replace(running=ran)
    return _broken(state)._replace(running=ran)


def _broken(state: Looking) -> Looking:
    """What came before does not touch what comes now."""
    return state._replace(
        minute=minutes.EMPTY,
        trail=(),
        cleaning=cleanings.broken(state.cleaning),
        steps=steps.broken(state.steps),
        still=stillness.broken(state.still),
        low_minutes=None,
    )


def _resumed(state: Looking, ran: Running) -> Looking:
    state = _broken(state)
    return state._replace(low_minutes=0) if ran.long_stop else state


def _counted(
    settings: CleaningSettings, header: Header, before: Cleaning, now: Cleaning, countable: bool
) -> Header:
    """Count the pulses that there should have been."""
    if now.since_s is None or now.since_s != before.since_s:
        # Dips that were seen before the cleaning was called for belong to nothing.
        header = headers.cleaning_over(header, countable=countable and before.since_s is not None)
    return headers.pulses(settings, header, now.called_s - now.since_s) if now.since_s is not None else header


def _answers(settings: CleaningSettings, state: Looking, cleaning: Cleaning) -> bool | None:
    """Whether the DP comes down under the pulses; as before, as long as that cannot be said of this cleaning."""
    usual = state.usual.pulled.value
    if cleaning.drop_inh2o >= max(ANSWER_INH2O, ANSWER_SHARE * (usual or 0.0)):
        return True
    if cleaning.since_s is None:
        return state.answers
    enough_s = max(ANSWER_PULSES * settings.pulse_every_s, 1.5 * (state.usual.cleaning_s.value or 0.0))
    return False if cleaning.called_s - cleaning.since_s >= enough_s else state.answers
