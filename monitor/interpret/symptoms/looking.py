"""Looking: what is usual, and what is not, one digest after another.

    digest → running? → header, cleaning, stillness → minute → usual values, steps, signs

Between two minutes only sums and the newest moment are kept, so that a digest costs a few microseconds.
"""

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.cycles.tracker import Tracker
from monitor.interpret.digest import Digest
from monitor.interpret.settings import CleaningMode, CleaningSettings
from monitor.interpret.symptoms import (
    baselines,
    cleanings,
    headers,
    minutes,
    running,
    showing,
    signs,
    steps,
    stillness,
)
from monitor.interpret.symptoms.cleanings import Cleaning
from monitor.interpret.symptoms.headers import Header
from monitor.interpret.symptoms.memory import Looking
from monitor.interpret.symptoms.minutes import Minute
from monitor.interpret.symptoms.running import Running
from monitor.interpret.symptoms.steps import Around
from monitor.interpret.symptoms.symptoms import Symptoms

__all__ = ["BEGIN", "Looking", "advance", "symptoms"]

BEGIN = Looking()
#: After a long stop, so many minutes with the DP below that share of its usual residual: new filters. Our choice.
NEW_FILTERS_MINUTES = 60
NEW_FILTERS_SHARE = 0.75
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
    countable = digest.good + digest.bad >= headers.COUNTABLE
    is_called = cleanings.called(settings, digest, tracker, header.dip_at_s if countable else None)
    cleaning = cleanings.advance(settings, state.cleaning, digest, is_called)
    answers = state.answers
    if is_called or state.cleaning.since_s is not None:
        header = _counted(settings, header, state.cleaning, cleaning, countable)
        answers = _answers(settings, state, cleaning)
    kept = steps.kept(state.steps, digest.mean_inh2o, is_called)
    if ran.settled and steps.may_be(kept) and usual.noise.value is not None:
        witness = digest.cleaning is not None or (countable and digest.header_psi is not None)
        kept = steps.looked_at(kept, digest.end_s, _around(state, digest, witness))
    state = tuple.__new__(
        Looking,
        (
            state.signs,
            state.held,
            ran,
            minutes.gather(state.minute, digest, is_called),
            state.trail,
            usual,
            header,
            cleaning,
            kept,
            stillness.advance(state.still, digest, settled=ran.settled),
            *state[10:13],
            answers,
            state.timed,
            state.stop_inh2o,
            countable,
        ),
    )
    if cycle is not None:
        state = _with_cycle(state, cycle)
    return _minute_over(settings, state, digest.end_s) if minutes.full(state.minute, digest.end_s) else state


def _around(state: Looking, digest: Digest, witness: bool) -> Around:
    usual, last = state.usual, state.trail[-1] if state.trail else None
    noise = usual.noise.value if usual.noise.value is not None else 0.0
    rise = showing.present_rise(state)
    flow = last.flow_cfm if last is not None else None
    parcel_s = digest.end_s - (state.running.last_s or digest.begin_s)
    return Around(baselines.floor_inh2o(usual), rise, flow, noise, parcel_s, witness)


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


def _with_cycle(state: Looking, cycle: Cycle) -> Looking:
    """Learn from a whole cycle."""
    ran_s = state.running.ran_s
    gap_s = ran_s - state.cycle_ran_s if state.cycle_ran_s is not None else None
    usual = state.usual
    floor = baselines.floor_inh2o(usual)
    if cycle.whole and state.running.settled:
        usual = baselines.from_cycle(usual, cycle, gap_s)
    trail = tuple(
        m._replace(cleaned=1.0) if not m.cleaned and cycle.begin_s < m.end_s < cycle.end_s + 60.0 else m
        for m in state.trail
    )
    return state._replace(
        usual=usual,
        trail=trail,
        steps=steps.cycle_came(state.steps, cycle, floor),
        cleaning=cleanings.ended_at(state.cleaning, ran_s),
        cycle=cycle,
        cycle_ran_s=ran_s,
    )


def _minute_over(settings: CleaningSettings, state: Looking, now_s: float) -> Looking:
    """A minute of running is over: look at it, learn from it, ask the rules."""
    minute, opened = minutes.closed(state.minute, now_s)
    trail = (*state.trail[1 - minutes.TRAIL :], minute)
    settled, ran_s = state.running.settled, state.running.ran_s
    still = stillness.minute_over(state.still, trail, learn=settled)
    state = state._replace(
        minute=opened,
        trail=trail,
        still=still,
        timed=settings.mode is CleaningMode.TIMED,
        stop_inh2o=settings.stop_inh2o,
    )
    if not settled:
        return state
    watched, since_s = steps.minute_over(state.steps, minute), state.running.since_s
    if state.running.long_stop and since_s is not None:
        watched = steps.perhaps_mended(watched, since_s, now_s)
    state = state._replace(
        steps=watched,
        usual=baselines.from_minute(state.usual, minute, showing.share(trail), ran_s),
    )
    if state.low_minutes is not None:
        state = _perhaps_new_filters(state, minute)
    if baselines.stretch_over(state.usual, ran_s):
        usual, still = baselines.closed(state.usual, state.still, ran_s)
        state = state._replace(usual=usual, still=still)
    standing, held = signs.judged(state.signs, state.held, showing.symptoms(state), minutes.MINUTE_S)
    return state._replace(signs=standing, held=held)


def _perhaps_new_filters(state: Looking, minute: Minute) -> Looking:
    """After a long stop: does the DP stay far below its usual residual?"""
    usual, low = state.usual, (state.low_minutes or 0) + 1
    residual = usual.residual.value if usual.residual.value is not None else usual.dp.value
    if residual is None or minute.dp_inh2o > NEW_FILTERS_SHARE * residual:
        return state._replace(low_minutes=None)
    if low < NEW_FILTERS_MINUTES:
        return state._replace(low_minutes=low)
    fresh = baselines.anew(usual, state.running.ran_s)
    return state._replace(low_minutes=None, usual=fresh, steps=steps.BEGIN)
