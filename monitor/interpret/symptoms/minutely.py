"""Minutely: what is done once a minute, and once a cycle: learn what is usual, watch a fall, ask the rules."""

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.settings import CleaningMode, CleaningSettings
from monitor.interpret.symptoms import baselines, cleanings, minutes, showing, signs, steps, stillness
from monitor.interpret.symptoms.memory import Looking
from monitor.interpret.symptoms.minutes import Minute

#: After a long stop, so many minutes with the DP below that share of its usual residual: new filters. Our choice.
NEW_FILTERS_MINUTES = 60
NEW_FILTERS_SHARE = 0.75


def with_cycle(state: Looking, cycle: Cycle) -> Looking:
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


def minute_over(settings: CleaningSettings, state: Looking, now_s: float) -> Looking:
    """A minute of running is over: look at it, learn from it, ask the rules."""
    minute, opened = minutes.closed(state.minute, now_s)
    trail = (*state.trail[1 - minutes.TRAIL :], minute)
    settled = state.running.settled
    state = state._replace(
        minute=opened,
        trail=trail,
        still=stillness.minute_over(state.still, trail, learn=settled),
        timed=settings.mode is CleaningMode.TIMED,
        stop_inh2o=settings.stop_inh2o,
    )
    return _judged(_learnt(state, minute)) if settled else state


def _learnt(state: Looking, minute: Minute) -> Looking:
    """Watch a fall, learn what is usual."""
    running, trail = state.running, state.trail
    watched = steps.minute_over(state.steps, minute)
    if running.long_stop and running.since_s is not None:
        watched = steps.perhaps_mended(watched, running.since_s, minute.end_s)
    usual = baselines.from_minute(state.usual, minute, showing.share(trail), running.ran_s)
    state = state._replace(steps=watched, usual=usual)
    if state.low_minutes is not None:
        state = _perhaps_new_filters(state, minute)
    if not baselines.stretch_over(state.usual, running.ran_s):
        return state
    usual, still = baselines.closed(state.usual, state.still, running.ran_s)
    return state._replace(usual=usual, still=still)


def _judged(state: Looking) -> Looking:
    """Ask the rules."""
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
