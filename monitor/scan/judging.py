"""Judging: one collector's alarms after something new is known of it, with the events that come of it."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from monitor.condition import channel
from monitor.interpret import curve as curves
from monitor.interpret import window
from monitor.interpret.curve import CurveState
from monitor.interpret.window import Window
from monitor.judge import watch
from monitor.judge.alarm import Alarm, Transition
from monitor.judge.calm import Bands, Seen, is_calm
from monitor.judge.lifecycle import keep_promise, pause
from monitor.judge.settings import Notice
from monitor.scan import context
from monitor.scan.context import UNKNOWN, Context
from monitor.scan.happenings import alarm_event
from monitor.scan.settings import CollectorPlan
from monitor.scan.state import CollectorState
from monitor.words import Command, Event, Hold, Instant, Quality, Reading, Reason, Role

Judged = tuple[CollectorState, tuple[Event, ...]]


def begin(
    plan: CollectorPlan,
    now: Instant,
    alarms: Mapping[str, Alarm] | None = None,
    residual: Window | None = None,
    average: Window | None = None,
    known: Context | None = None,
    curve: CurveState = curves.BEGIN,
) -> CollectorState:
    """A collector of which nothing was read yet, with the alarms, windows and curve that are remembered of it.

    Delays stand still until the first reading: the time in which nobody watched counts for none.
    """
    unread = Reading(Quality.BAD, Reason.NOT_YET_READ, now, detail="not read yet")
    residual, average = window.pause(residual or Window()), window.pause(average or Window())
    return CollectorState(
        channels={role: channel.start(point.channel) for role, point in plan.points.items()},
        readings=dict.fromkeys(plan.points, unread),
        residual=residual,
        # One window serves for both while they are the same; see _interpret.
        average=residual if average == residual else average,
        watch=watch.begin(
            bands_of(plan),
            {tag: pause(keep_promise(alarm, now), now.mono_s) for tag, alarm in (alarms or {}).items()},
        ),
        # What fan and cleaning said last is believed until they can be asked.
        context=(known or UNKNOWN)._replace(fan_said_s=now.mono_s, cleaning_said_s=now.mono_s, due_s=-math.inf),
        curve=curve,
    )


def bands_of(plan: CollectorPlan) -> Bands:
    """The alarms of one collector, as the judge wants them."""
    return Bands(plan.bands, plan.bad_signal, tuple([Notice(alarm) for alarm in plan.warnings.values()]))


def judge(plan: CollectorPlan, state: CollectorState, now: Instant) -> Judged:
    """Judge a new reading of the DP, or the loss of one."""
    state, events = regard(plan, state, now)
    seen = seen_of(plan, state)
    before_s, watched = state.looked_s, state.watch
    looked_s = None if seen.damped is None else now.mono_s
    if before_s is not None and now.mono_s - before_s > plan.points[Role.DP].channel.stale_after_s:
        # The daemon itself stood still (a frozen machine): those two looks say nothing of the time between.
        watched = watch.blinded(bands_of(plan), watched, before_s)
    elif is_calm(watched, seen, now.mono_s):
        return replace(state, looked_s=looked_s), events
    watched, fired = watch.look(bands_of(plan), watched, seen, now, before_s)
    state = replace(state, watch=watched, looked_s=looked_s)
    return state, events + events_of(plan, state, fired)


def wait(plan: CollectorPlan, state: CollectorState, now: Instant) -> Judged:
    """Let time pass without a reading of the DP: shelves and hold-offs end, a signal is bad for too long."""
    state, events = regard(plan, state, now)
    watched, fired = watch.wait(bands_of(plan), state.watch, seen_of(plan, state), now, state.looked_s)
    if watched is not state.watch:
        state = replace(state, watch=watched)
    return state, events + events_of(plan, state, fired)


def regard(plan: CollectorPlan, state: CollectorState, now: Instant) -> Judged:
    """Hold back by design what fan, cleaning and link say now, and nothing else."""
    known = context.follow(state.context, state.readings) if plan.suppression else state.context
    if known is state.context and now.mono_s < known.due_s:
        return state, ()
    known, holds = context.held(plan, known, now.mono_s)
    state = replace(state, context=known)
    return _hold_back(plan, state, {**holds, **state.explained}, now)


def explain(plan: CollectorPlan, state: CollectorState, explained: Mapping[str, Hold], now: Instant) -> Judged:
    """From now on these alarms are explained by alarms from outside the collector, and no others."""
    if explained == state.explained:
        return state, ()
    known, holds = context.held(plan, state.context, now.mono_s)
    state = replace(state, explained=explained, context=known)
    return _hold_back(plan, state, {**holds, **explained}, now)


def _hold_back(plan: CollectorPlan, state: CollectorState, holds: Mapping[str, Hold], now: Instant) -> Judged:
    watched, fired = watch.hold_back(bands_of(plan), state.watch, holds, seen_of(plan, state), now, state.looked_s)
    if watched is not state.watch:
        state = replace(state, watch=watched)
    return state, events_of(plan, state, fired)


def seen_of(plan: CollectorPlan, state: CollectorState) -> Seen:
    """What the judge may go by: nothing at all while the DP is not good."""
    dp = state.readings[Role.DP]
    if dp.quality is not Quality.GOOD:
        return Seen(None, None, None)
    return Seen(
        dp.damped, state.residual.lowest, state.average.mean, _standing(plan, state) if plan.warnings else None
    )


def _standing(plan: CollectorPlan, state: CollectorState) -> frozenset[str]:
    return frozenset([plan.warnings[sign].tag for sign, _ in state.curve.signs if sign in plan.warnings])


def events_of(
    plan: CollectorPlan, state: CollectorState, fired: Iterable[Transition], command: Command | None = None
) -> tuple[Event, ...]:
    """The transitions as events, with the figures of the moment."""
    dp, alarms, signs = state.readings[Role.DP], state.watch.alarms, state.curve.signs
    return tuple(
        alarm_event(
            plan, one, seen_of(plan, state), dp, command, is_held=alarms[one.tag].hold is not None, signs=signs
        )
        for one in fired
    )
