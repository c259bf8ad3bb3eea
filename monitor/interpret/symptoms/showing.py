"""Showing: what is remembered, put beside its usual as symptoms."""

from typing import NamedTuple

from monitor.interpret.symptoms import cleanings, headers
from monitor.interpret.symptoms.conditions import EMPTY_PSI
from monitor.interpret.symptoms.memory import Looking
from monitor.interpret.symptoms.minutes import Minute
from monitor.interpret.symptoms.symptoms import Symptoms

#: The stop set point is reached where the DP came so near to it, inH2O; our choice, more than noise makes.
NEAR_STOP_INH2O = 0.15
#: A cleaning that has taken so many times the usual will not reach it any more; our choice.
OVERDUE = 1.5
#: The header has not come back below this share of its usual, whatever its dips; our choice.
SAGGED = 0.85
#: So large a share of the pulses before which it had not come back; our choice.
MOSTLY_SHORT = 0.5
#: Minutes over which the highest header pressure is taken where it is read slowly; our choice.
SLOW_MINUTES = 15
#: And in which there must be so many without cleaning.
SLOW_IDLE = 3
#: Empty for so many minutes it is, however slowly it is read: no pulse leaves so little behind; our choice.
EMPTY_MINUTES = 3
#: Minutes of cleaning, in which the DP should have done something.
FLAT_MINUTES = 5
#: Minutes without cleaning, over which the present rise is taken.
RISE_MINUTES = 3


class _Now(NamedTuple):
    """The present or the last cleaning."""

    lasted_s: float | None
    pulled: float | None
    stop_reached: bool | None


def symptoms(state: Looking) -> Symptoms:
    """What shows now (without ``reason``, ``others`` and the trend's slope, which others know)."""
    running, usual, steps, still = state.running, state.usual, state.steps, state.still
    fall = steps.fall if steps.fall is not None and steps.fall.stays else None
    calmest = usual.calmest.past
    return _with_header(state, _cleaned(state))._replace(
        fan=running.fan,
        settled=running.settled,
        ran_s=running.ran_s,
        fan_off_dp_inh2o=running.off_inh2o,
        step_inh2o=steps.step_inh2o,
        step_age_s=(running.last_s or 0.0) - steps.at_s if steps.at_s is not None else None,
        fall_inh2o=fall.size_inh2o if fall is not None else None,
        fall_from_inh2o=fall.before_inh2o if fall is not None else None,
        wander_inh2o=_wander(state),
        now_inh2o=steps.recent[-1] if steps.recent else None,
        noise_inh2o=still.variance**0.5 if still.variance is not None else None,
        noise_usual_inh2o=usual.noise.value,
        noise_calmest_inh2o=(sum(calmest) / len(calmest)) ** 0.5 if calmest else None,
        still_s=still.seen_s - still.since_s if still.value is not None else None,
        still_usual_s=usual.still_s.value,
        flat_inh2o=_flat(state.trail) if state.countable else None,
    )


def _cleaned(state: Looking) -> Symptoms:
    """What cleaning does."""
    usual, cycle, now, gap_s = state.usual, state.cycle, _cleaning(state), state.usual.gap_s.value
    return Symptoms(
        cleaning=state.cleaning.since_s is not None if state.running.fan else None,
        cleaning_s=now.lasted_s,
        cleaning_usual_s=usual.cleaning_s.value,
        stop_reached=now.stop_reached,
        pulled_inh2o=now.pulled,
        pulled_usual_inh2o=usual.pulled.value,
        residual_inh2o=cycle.residual_inh2o if cycle is not None else None,
        residual_usual_inh2o=usual.residual.value,
        peak_inh2o=cycle.peak_inh2o if cycle is not None else None,
        peak_usual_inh2o=usual.peak.value,
        rise_inh2o_min=present_rise(state),
        rise_usual_inh2o_min=usual.rise.value,
        cycles_h=cleanings.per_hour(state.cleaning, state.running.ran_s),
        cycles_usual_h=3600.0 / gap_s if gap_s else None,
        sawtooth=_sawtooth(state),
        over_start_s=_over_start_s(state),
        cleaned_share=share(state.trail),
        cleaned_usual_share=usual.share.value,
        answers_pulses=state.answers,
        timed=state.timed,
    )


def _with_header(state: Looking, shown: Symptoms) -> Symptoms:
    """The last minute of the DP, the header and the flow."""
    usual, header, last = state.usual, state.header, state.trail[-1] if state.trail else None
    psi, usual_psi = _header(state, last)
    counts = state.countable and header.last_psi is not None
    present = counts and state.cleaning.since_s is not None
    return shown._replace(
        dp_inh2o=last.dp_inh2o if last is not None else None,
        dp_usual_inh2o=usual.dp.value,
        header_psi=psi,
        header_usual_psi=usual_psi,
        dip_psi=header.dip_psi,
        dip_usual_psi=usual.dip.value,
        dips_missing=headers.missing(header) if counts else None,
        pulses_due=header.run_expected if present else None,
        dips_seen=header.run_seen if present else None,
        header_recovers=_recovers(state, psi, usual_psi),
        flow_cfm=last.flow_cfm if last is not None else None,
        flow_usual_cfm=usual.flow.value,
    )


def share(trail: tuple[Minute, ...]) -> float | None:
    """Share of the last half hour in which it was cleaned."""
    return sum([m.cleaned for m in trail]) / len(trail) if len(trail) >= 30 else None


def _cleaning(state: Looking) -> _Now:
    """The present cleaning once it has taken as long as usual, before that the last one."""
    cleaning, usual_s = state.cleaning, state.usual.cleaning_s.value
    if cleaning.since_s is not None:
        lasted_s = cleaning.called_s - cleaning.since_s
        overdue = usual_s is not None and lasted_s > OVERDUE * usual_s
        if overdue or cleaning.lasted_s is None:
            reached = _at_stop(state, cleaning.now_inh2o) if overdue else None
            return _Now(lasted_s, cleaning.top_inh2o - cleaning.now_inh2o, reached)
        return _Now(lasted_s, cleaning.pulled_inh2o, _at_stop(state, cleaning.residual_inh2o))
    if cleaning.lasted_s is None:
        return _Now(None, None, None)
    return _Now(cleaning.lasted_s, cleaning.pulled_inh2o, _at_stop(state, cleaning.residual_inh2o))


def _at_stop(state: Looking, dp: float | None) -> bool | None:
    stop = state.stop_inh2o if state.stop_inh2o is not None else state.usual.residual.value
    return None if stop is None or dp is None else dp <= stop + NEAR_STOP_INH2O


def _header(state: Looking, last: Minute | None) -> tuple[float | None, float | None]:
    """The header pressure between pulses, and what it usually is in the same condition.

    Read slowly, it may meet every pulse of a cleaning at the same moment of its dip: then the highest of a quarter
    of an hour is told, in which there is always a pause in good order.
    """
    usual = state.usual
    if state.header.last_psi is None or last is None:
        return state.header.last_psi, usual.header.value
    if not state.countable:
        newest = [m.header_high_psi for m in state.trail[-EMPTY_MINUTES:] if m.header_high_psi is not None]
        if len(newest) == EMPTY_MINUTES and max(newest) < EMPTY_PSI:
            return max(newest), usual.header.value
        there = [m.header_high_psi for m in state.trail[-SLOW_MINUTES:] if m.header_high_psi is not None]
        enough = (
            len(state.trail) >= SLOW_MINUTES
            and sum(not m.cleaned for m in state.trail[-SLOW_MINUTES:]) >= SLOW_IDLE
        )
        return max(there) if there and enough else None, usual.header.value
    if last.cleaned > 0.0 and usual.header_busy.value is not None:
        return last.header_high_psi, usual.header_busy.value
    return last.header_high_psi, usual.header.value


def _recovers(state: Looking, header_psi: float | None, usual: float | None) -> bool | None:
    if header_psi is not None and header_psi < (EMPTY_PSI if usual is None else SAGGED * usual):
        return False
    short = state.header.short if state.countable else None
    return None if short is None else short < MOSTLY_SHORT


def present_rise(state: Looking) -> float | None:
    """The present rise, once a few minutes of it were seen since a cleaning; else that of the last cycle."""
    quiet = 0
    for minute in reversed(state.trail):
        if minute.cleaned:
            break
        quiet += 1
    if quiet > RISE_MINUTES:
        first, last = state.trail[-quiet], state.trail[-1]
        return (last.dp_inh2o - first.dp_inh2o) * 60.0 / max(last.end_s - first.end_s, 1.0)
    return state.cycle.rise_inh2o_min if state.cycle is not None else None


def _wander(state: Looking) -> float | None:
    """How far it drifted, where half an hour shows neither cleaning nor a cycle."""
    trail = state.trail
    if len(trail) < 30 or any(m.cleaned for m in trail):
        return None
    if state.cycle is not None and state.cycle.end_s > trail[0].end_s - 60.0:
        return None
    values = [m.dp_inh2o for m in trail]
    return max(values) - min(values)


def _flat(trail: tuple[Minute, ...]) -> float | None:
    last = trail[-FLAT_MINUTES:]
    if len(last) < FLAT_MINUTES or any(m.cleaned < 1.0 for m in last):
        return None
    values = [m.dp_inh2o for m in last]
    return max(values) - min(values)


def _sawtooth(state: Looking) -> bool | None:
    gap_s, ran_s = state.usual.gap_s.value, state.cycle_ran_s
    if gap_s is None or ran_s is None or not state.running.settled:
        return None
    return state.running.ran_s - ran_s <= 3.0 * gap_s


def _over_start_s(state: Looking) -> float | None:
    over, last = state.cleaning.over_since_s, state.running.last_s
    return last - over if over is not None and last is not None else None
