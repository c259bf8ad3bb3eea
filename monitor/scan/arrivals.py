"""Arrivals: what a scan brought, sorted by collector and turned into readings and windows."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from monitor.condition import channel
from monitor.interpret import curve, window
from monitor.interpret.curve import CurveState
from monitor.interpret.digest import Sample
from monitor.interpret.window import Window
from monitor.scan.settings import CollectorPlan
from monitor.scan.state import CollectorState
from monitor.words import BlockRead, Failure, Instant, Quality, Reading, Role

#: What is known of one point from one reply, in the order in which the points are taken in.
Arrival = tuple[Role, tuple[int, ...] | Failure, Instant]


def by_collector(reads: Iterable[BlockRead]) -> dict[str, list[Arrival]]:
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


def arrive(plan: CollectorPlan, state: CollectorState, arrivals: Iterable[Arrival]) -> tuple[CollectorState, bool]:
    """Condition and interpret what arrived; and whether the DP was among it."""
    channels, readings = dict(state.channels), dict(state.readings)
    fresh_dp = False
    for role, words, at in arrivals:
        point = plan.points.get(role)
        if point is None:
            continue  # the site file changed while the request was under way
        fresh_dp = fresh_dp or role is Role.DP
        if isinstance(words, Failure):
            channels[role], readings[role] = channel.fail(point.channel, channels[role], words, at)
        else:
            fan = _fan_running(readings)
            channels[role], readings[role] = channel.advance(point.channel, channels[role], words, at, fan)
    if not fresh_dp:
        return replace(state, channels=channels, readings=readings), False
    residual, average = _interpret(plan, state, readings)
    return CollectorState(
        channels,
        readings,
        residual,
        average,
        state.watch,
        state.looked_s,
        state.context,
        state.explained,
        _read_curve(plan, state.curve, readings),
    ), True


def grow_old(plan: CollectorPlan, state: CollectorState, now: Instant) -> CollectorState:
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
    return replace(state, readings=readings, residual=residual, average=average)


def _fan_running(readings: Mapping[Role, Reading]) -> bool | None:
    """Whether the fan runs; None where nobody says or the word of it cannot be trusted."""
    return _says(readings, Role.FAN_RUNNING)


def _says(readings: Mapping[Role, Reading], role: Role) -> bool | None:
    value = _good(readings, role)
    return None if value is None else value == 1.0


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


def _read_curve(plan: CollectorPlan, state: CurveState, readings: Mapping[Role, Reading]) -> CurveState:
    if plan.curve is None:
        return state
    at = readings[Role.DP].at
    return curve.advance(
        plan.curve,
        state,
        Sample(
            at.mono_s,
            at.utc_s,
            _good(readings, Role.DP),
            _good(readings, Role.HEADER_PRESSURE),
            _good(readings, Role.AIR_FLOW),
            _fan_running(readings),
            _says(readings, Role.CLEANING_ACTIVE),
        ),
    )


def _good(readings: Mapping[Role, Reading], role: Role) -> float | None:
    reading = readings.get(role)
    return reading.value if reading is not None and reading.quality is Quality.GOOD else None


def _paused(state: CollectorState) -> tuple[Window, Window]:
    residual = window.pause(state.residual)
    return residual, residual if state.average is state.residual else window.pause(state.average)
