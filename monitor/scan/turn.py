"""Turn: one input taken in. (plans, states, input, now) → outcome.

Whatever enters the house comes through here in one order: register words, the passing of time, what a person
did. Replaying the same inputs with the same instants gives the same outcome, live, in rehearsal and in tests.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from monitor.condition import channel
from monitor.interpret import window
from monitor.interpret.window import Window
from monitor.judge import watch
from monitor.judge.lifecycle import Alarm, Transition, pause
from monitor.judge.table import Trigger
from monitor.judge.watch import Bands, Seen
from monitor.scan.happenings import alarm_event, link_event
from monitor.scan.settings import CollectorPlan
from monitor.scan.state import CollectorState, Outcome
from monitor.words import (
    BlockRead,
    Event,
    Failure,
    Instant,
    LinkChange,
    Quality,
    Reading,
    Reason,
    Role,
    UnitScan,
)


@dataclass(frozen=True, slots=True)
class Tick:
    """Time passed: delays may have run out, readings may have grown stale."""


@dataclass(frozen=True, slots=True)
class PersonDid:
    """A person acknowledged or cleared one alarm."""

    collector: str
    tag: str
    trigger: Trigger
    by: str


Input = UnitScan | LinkChange | Tick | PersonDid

#: What is known of one point from one reply, in the order in which the points are taken in.
Arrival = tuple[Role, tuple[int, ...] | Failure, Instant]


def begin(
    plan: CollectorPlan,
    now: Instant,
    alarms: Mapping[str, Alarm] | None = None,
    residual: Window | None = None,
    average: Window | None = None,
) -> CollectorState:
    """A collector of which nothing was read yet, with the alarms and windows that are remembered of it.

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
            bands_of(plan), {tag: pause(alarm, now.mono_s) for tag, alarm in (alarms or {}).items()}
        ),
    )


def turn(
    plans: Mapping[str, CollectorPlan], states: Mapping[str, CollectorState], what: Input, now: Instant
) -> Outcome:
    """Take in one input. Collectors that are no longer planned are passed over.

    Args:
        plans: by collector name.
        states: one for each plan.
        what: the input.
        now: not before the instant of the turn before.
    """
    match what:
        case UnitScan():
            return _take_words(plans, states, what, now)
        case Tick():
            return _take_time(plans, states, now)
        case PersonDid():
            return _take_person(plans, states, what, now)
        case LinkChange():
            return Outcome(events=(link_event(what),))


def bands_of(plan: CollectorPlan) -> Bands:
    """The alarms of one collector, as the judge wants them."""
    return Bands(plan.bands, plan.bad_signal)


def _take_words(
    plans: Mapping[str, CollectorPlan], states: Mapping[str, CollectorState], scan: UnitScan, now: Instant
) -> Outcome:
    changed: dict[str, CollectorState] = {}
    events: tuple[Event, ...] = ()
    for name, arrivals in _by_collector(scan.reads).items():
        plan = plans.get(name)
        if plan is None:
            continue  # taken out of the site file while the request was under way
        changed[name], done = _arrive(plan, states[name], arrivals, now)
        events += done
    return Outcome(changed, events)


def _by_collector(reads: Iterable[BlockRead]) -> dict[str, list[Arrival]]:
    """Sort what one scan brought by collector, the fan first: whether it runs is asked of the DP beside it."""
    sorted_out: dict[str, list[Arrival]] = {}
    for read in reads:
        for slot in read.block.slots:
            arrivals = sorted_out.setdefault(slot.point.collector, [])
            arrival = (slot.point.role, read.failure or read.words_of(slot), read.at)
            if slot.point.role is Role.FAN_RUNNING:
                arrivals.insert(0, arrival)
            else:
                arrivals.append(arrival)
    return sorted_out


def _arrive(
    plan: CollectorPlan, state: CollectorState, arrivals: list[Arrival], now: Instant
) -> tuple[CollectorState, tuple[Event, ...]]:
    channels, readings = dict(state.channels), dict(state.readings)
    fresh_dp = False
    for role, words, at in arrivals:
        point = plan.points.get(role)
        if point is None:
            continue  # as above: the site file changed while the request was under way
        fresh_dp = fresh_dp or role is Role.DP
        if isinstance(words, Failure):
            channels[role], readings[role] = channel.fail(point.channel, channels[role], words, at)
        else:
            fan = _fan_running(readings)
            channels[role], readings[role] = channel.advance(point.channel, channels[role], words, at, fan)
    if not fresh_dp:
        return replace(state, channels=channels, readings=readings), ()
    residual, average = _interpret(plan, state, readings)
    return _judge(plan, CollectorState(channels, readings, residual, average, state.watch, state.looked_s), now)


def _fan_running(readings: Mapping[Role, Reading]) -> bool | None:
    """Whether the fan runs; None where nobody says or the word of it cannot be trusted."""
    fan = readings.get(Role.FAN_RUNNING)
    return None if fan is None or fan.quality is not Quality.GOOD else fan.value == 1.0


def _interpret(
    plan: CollectorPlan, state: CollectorState, readings: Mapping[Role, Reading]
) -> tuple[Window, Window]:
    dp = readings[Role.DP]
    if dp.quality is not Quality.GOOD or dp.damped is None or _fan_running(readings) is False:
        return _paused(state)
    now_s, trends = dp.at.mono_s, plan.trends
    residual = window.add(state.residual, dp.damped, now_s, trends.residual_window_s)
    # Windows of the same length over the same samples are the same window: half the work, half the memory.
    if state.average is state.residual and trends.average_window_s == trends.residual_window_s:
        return residual, residual
    return residual, window.add(state.average, dp.damped, now_s, trends.average_window_s)


def _paused(state: CollectorState) -> tuple[Window, Window]:
    residual = window.pause(state.residual)
    return residual, residual if state.average is state.residual else window.pause(state.average)


def _judge(plan: CollectorPlan, state: CollectorState, now: Instant) -> tuple[CollectorState, tuple[Event, ...]]:
    """Judge a new reading, or the loss of one."""
    seen = seen_of(state)
    before_s, watched = state.looked_s, state.watch
    looked_s = None if seen.damped is None else now.mono_s
    if before_s is not None and now.mono_s - before_s > plan.points[Role.DP].channel.stale_after_s:
        # The daemon itself stood still (a frozen machine): those two looks say nothing of the time between.
        watched = watch.blinded(bands_of(plan), watched, before_s)
    elif watch.is_calm(watched, seen, now.mono_s):
        return replace(state, looked_s=looked_s), ()
    watched, fired = watch.look(bands_of(plan), watched, seen, now, before_s)
    state = replace(state, watch=watched, looked_s=looked_s)
    return state, _events(plan, state, fired, by=None)


def seen_of(state: CollectorState) -> Seen:
    """What the judge may go by: nothing at all while the DP is not good."""
    dp = state.readings[Role.DP]
    if dp.quality is not Quality.GOOD:
        return Seen(None, None, None)
    return Seen(dp.damped, state.residual.lowest, state.average.mean)


def _events(
    plan: CollectorPlan, state: CollectorState, fired: Iterable[Transition], by: str | None
) -> tuple[Event, ...]:
    return tuple(alarm_event(plan, one, seen_of(state), state.readings[Role.DP], by) for one in fired)


def _take_time(plans: Mapping[str, CollectorPlan], states: Mapping[str, CollectorState], now: Instant) -> Outcome:
    """Readings may have grown stale, and a signal may have been bad for too long; no band needs time alone."""
    changed: dict[str, CollectorState] = {}
    events: tuple[Event, ...] = ()
    for name, plan in plans.items():
        before = states[name]
        aged = _grow_old(plan, before, now)
        if aged is before and now.mono_s < before.watch.bad_due_s:
            continue
        dp_aged = aged.readings[Role.DP] is not before.readings[Role.DP]
        changed[name], done = _judge(plan, aged, now) if dp_aged else _wait(plan, aged, now)
        events += done
    return Outcome(changed, events)


def _wait(plan: CollectorPlan, state: CollectorState, now: Instant) -> tuple[CollectorState, tuple[Event, ...]]:
    watched, fired = watch.wait(bands_of(plan), state.watch, seen_of(state), now)
    state = replace(state, watch=watched)
    return state, _events(plan, state, fired, by=None)


def _grow_old(plan: CollectorPlan, state: CollectorState, now: Instant) -> CollectorState:
    """Turn readings stale that nothing has renewed; the same state where none is."""
    stale: dict[Role, Reading] = {}
    for role, reading in state.readings.items():
        aged = channel.age(plan.points[role].channel, reading, now)
        if aged is not None:
            stale[role] = aged
    if not stale:
        return state
    residual, average = state.residual, state.average
    if Role.DP in stale:
        residual, average = _paused(state)
    readings = {**state.readings, **stale}
    return CollectorState(state.channels, readings, residual, average, state.watch, state.looked_s)


def _take_person(
    plans: Mapping[str, CollectorPlan], states: Mapping[str, CollectorState], did: PersonDid, now: Instant
) -> Outcome:
    plan, state = plans.get(did.collector), states.get(did.collector)
    if plan is None or state is None or did.tag not in state.watch.alarms:
        return Outcome()
    watched, fired = watch.tell(bands_of(plan), state.watch, did.tag, did.trigger, now, state.looked_s)
    state = replace(state, watch=watched)
    return Outcome({did.collector: state}, _events(plan, state, fired, by=did.by))
