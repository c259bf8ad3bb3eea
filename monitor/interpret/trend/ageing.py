"""Ageing: the residual DP day by day since the filters were put in.

    digest → running → quarters of an hour ┐
    cycle → residual DP, corrected for flow ┴→ a figure for each day of running → falls → a new set?

Where the flow is measured, each figure is brought to one flow: air creeps through cloth and cake, so the DP goes
with the flow (filter drag S = ΔP/V, EPA/452/B-02-001 Section 6 Chapter 1) and ΔP × reference flow / flow is what
it would have been at the reference flow.
"""

from typing import NamedTuple

from monitor.interpret.cycles.cycle import Cycle
from monitor.interpret.digest import Digest
from monitor.interpret.settings import DAY_S, FilterSettings
from monitor.interpret.trend import days as daily
from monitor.interpret.trend import falls
from monitor.interpret.trend.days import QUARTER_S, Day, OpenDay
from monitor.interpret.trend.falls import Fall, Verdict
from monitor.interpret.trend.flow import Flow, learned, same_flow
from monitor.interpret.trend.life import Life, ended
from monitor.interpret.trend.running import STOP_S, Meter, measure, possible_stop_s
from monitor.interpret.trend.series import by_cycles, levels, running_share

#: Finished lives kept for whoever plans maintenance.
MOST_LIVES = 10
#: A date told names a change that was noticed, or told, before if it lies so near to it, seconds.
SAME_AS_NOTICED_S = 7 * DAY_S
SAME_AS_TOLD_S = 1 * DAY_S
#: A day belongs to the new set if so much of it, in days of running, came after the change.
WHOLE_DAY_D = 0.97


class Ageing(NamedTuple):
    """What is known of the set of filters in service.

    Attributes:
        since_utc_s: since when it is in service, as told, noticed, or first seen.
        noticed: whether a change of the set was noticed in the curve by itself (nobody told).
        meter: the hours run since the first digest; they run on over a change.
        open: the day that is being filled.
        begin_run_d: days of running at which this life (or what of it can be trended) began.
        days: its days.
        fall: what is watched to see a change.
        fell_utc_s: since when the residual DP lies lower without a stop before it: torn bag, or new filters that
            nobody told; None where that is not so. The trend begins anew there.
        flow: to which flow figures are brought.
        lives: earlier sets, the newest last.
        told: whether somebody said since when it is in service.
    """

    since_utc_s: float | None = None
    noticed: bool = False
    meter: Meter = Meter()
    open: OpenDay = OpenDay()
    begin_run_d: float = 0.0
    days: tuple[Day, ...] = ()
    fall: Fall = Fall()
    fell_utc_s: float | None = None
    flow: Flow = Flow()
    lives: tuple[Life, ...] = ()
    told: bool = False


BEGIN = Ageing()


def advance(settings: FilterSettings, state: Ageing, digest: Digest, cycle: Cycle | None) -> Ageing:
    """Take in one digest, and the cycle that it completed, if it did."""
    state = _in_service(settings, state, digest)
    before = state.meter
    meter = measure(before, digest, lambda: running_share(state.days, before.run_s, before.last_utc_s))
    if possible_stop_s(before, meter, digest) >= STOP_S:
        state = state._replace(open=daily.without_quarter(state.open), fall=falls.stopped(state.fall))
    flow = state.flow if digest.flow_cfm is None else learned(settings, state.flow, digest.flow_cfm, meter.run_s)
    day = state.open
    if meter.ran and digest.good:
        figure_inh2o = same_flow(flow, digest.mean_inh2o, digest.flow_cfm)
        day = OpenDay(*day[:-2], day.sum_inh2o + figure_inh2o, day.good + 1)
    state = Ageing(state[0], state[1], meter, day, *state[4:8], flow, *state[9:])
    if cycle is not None:
        state = _with_cycle(state, cycle)
    if meter.run_s // QUARTER_S > before.run_s // QUARTER_S:
        return _quarter_over(state)
    return state


def filters_changed(state: Ageing, utc_s: float) -> Ageing:
    """Begin anew: somebody said that a new set was put in at that moment (Unix seconds).

    A change that was noticed in the same week, or told the same day, is the same change: only its date is
    corrected. A date before the set was first seen says how old it is.
    """
    same_s = SAME_AS_NOTICED_S if state.noticed else SAME_AS_TOLD_S if state.told else 0.0
    if state.since_utc_s is None or utc_s <= state.since_utc_s + same_s:
        return state._replace(since_utc_s=utc_s, noticed=False, told=True)
    run_d = max((day.run_d for day in state.days if day.utc_d * DAY_S <= utc_s), default=state.begin_run_d)
    if utc_s >= state.meter.last_utc_s:
        run_d = state.meter.run_s / DAY_S
    return _anew(state, utc_s, run_d, noticed=False)._replace(told=True)


def _in_service(settings: FilterSettings, state: Ageing, digest: Digest) -> Ageing:
    """Begin where the site file says so; else with the first digest."""
    told, since = settings.installed_utc_s, state.since_utc_s
    if since is None:
        is_told = told is not None and told <= digest.end_utc_s
        return state._replace(since_utc_s=told if is_told else digest.end_utc_s, told=is_told)
    if told is None or told <= since or told > digest.end_utc_s:
        return state
    return filters_changed(state, told)


def _with_cycle(state: Ageing, cycle: Cycle) -> Ageing:
    residual_inh2o = round(same_flow(state.flow, cycle.residual_inh2o, cycle.flow_cfm), 4)
    peak_inh2o = round(cycle.peak_inh2o, 4)
    fall = falls.look(state.fall, residual_inh2o, cycle.end_utc_s, state.meter.run_s)
    return state._replace(open=daily.with_cycle(state.open, residual_inh2o, peak_inh2o), fall=fall)


def _quarter_over(state: Ageing) -> Ageing:
    """Close the quarter of an hour; the day too, if it is full; and judge whether the filters are new."""
    run_s, utc_s = state.meter.run_s, state.meter.last_utc_s
    day, fall = daily.with_quarter(state.open), state.fall
    # Where cycles show again, the mean of a quarter has cake in it and is no residual DP.
    if not (fall.by_cycles or day.cycles) and len(day.quarters) > len(state.open.quarters):
        fall = falls.look(fall, day.quarters[-1], utc_s, run_s)
    state = state._replace(open=day, fall=fall)
    if run_s - day.begin_run_s >= DAY_S:
        state = _day_over(state)
    verdict = falls.judge(fall, run_s)
    if verdict is Verdict.NEW_FILTERS and _start_moved(state):
        verdict = Verdict.UNCERTAIN
    match verdict:
        case Verdict.NEW_FILTERS:
            return _anew(state, fall.since_utc_s, fall.since_run_s / DAY_S, noticed=True)
        case Verdict.UNCERTAIN:
            return _broken_off(state)
        case Verdict.NOTHING:
            return state


def _start_moved(state: Ageing) -> bool:
    """Whether somebody moved the start set point of the cleaning: then the residual DP fell with it."""
    since_d = state.fall.since_run_s / DAY_S
    before = [
        (day.peak_inh2o, day.residual_inh2o)
        for day in state.days
        if day.run_d <= since_d and day.peak_inh2o is not None and day.residual_inh2o is not None
    ]
    after = [day.peak_inh2o for day in state.days if day.run_d > since_d + WHOLE_DAY_D]
    return falls.start_moved(before, [*filter(None, after), *state.open.peaks])


def _day_over(state: Ageing) -> Ageing:
    run_s = state.meter.run_s
    days = daily.kept((*state.days, daily.closed(state.open, run_s, state.meter.last_utc_s)))
    fall = state.fall
    if not fall.low:
        fall = falls.drawn(fall, levels(days), by_cycles(days))
    return state._replace(days=days, open=OpenDay(begin_run_s=run_s), fall=fall)


def _anew(state: Ageing, utc_s: float, run_d: float, *, noticed: bool) -> Ageing:
    """End the life at that moment, and begin the next with what was seen since."""
    before = tuple(day for day in state.days if day.run_d <= run_d)
    since_utc_s = utc_s if state.since_utc_s is None else state.since_utc_s
    life = ended(since_utc_s, utc_s, state.begin_run_d, before)
    state = _from(state, run_d)
    return state._replace(
        since_utc_s=utc_s,
        noticed=noticed,
        told=False,
        fell_utc_s=None,
        flow=state.flow._replace(first=(), begin_run_s=state.meter.run_s),
        lives=(*state.lives, life)[-MOST_LIVES:],
    )


def _broken_off(state: Ageing) -> Ageing:
    """The residual DP fell and nobody can tell why: what came before tells nothing of what comes."""
    return _from(state, state.fall.since_run_s / DAY_S)._replace(fell_utc_s=state.fall.since_utc_s)


def _from(state: Ageing, run_d: float) -> Ageing:
    """Keep of the figures what came after so many days of running; the day in which that was tells nothing."""
    days = tuple(day for day in state.days if day.run_d >= run_d + WHOLE_DAY_D)
    fall = falls.drawn(Fall(), levels(days), by_cycles(days or state.days))
    is_open = state.open.begin_run_s / DAY_S >= run_d - (1.0 - WHOLE_DAY_D)
    day = state.open if is_open else OpenDay(begin_run_s=state.meter.run_s)
    return state._replace(begin_run_d=round(run_d, 2), days=days, fall=fall, open=day)
