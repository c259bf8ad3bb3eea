"""Context: whether the fan runs, has just started, or the process cleans; and which bands that holds back.

What the fan last said is believed for as long as its point's ``stale_after`` allows; after that nothing is known,
and nothing is held back by it. A fan that was already running when it was first seen has not "just started".
"""

import math
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from monitor.scan.settings import CollectorPlan, Suppression
from monitor.words import Hold, HoldReason, Quality, Reading, Role

_FAN_STOPPED = Hold(HoldReason.FAN_STOPPED)
_START_UP = Hold(HoldReason.START_UP)
_CLEANING = Hold(HoldReason.CLEANING)


class Context(NamedTuple):
    """What the fan and the cleaning are known to do.

    Attributes:
        fan_runs: as last said.
        fan_said_s: when that was, on the scan clock.
        fan_started_s: when it was seen to start.
        cleans, cleaning_said_s: the same of the cleaning.
        cleaning_since_s: since when it has been called for without a break.
        due_s: when, without any new reading, something will be held back no longer.
    """

    fan_runs: bool | None = None
    fan_said_s: float = -math.inf
    fan_started_s: float = -math.inf
    cleans: bool | None = None
    cleaning_said_s: float = -math.inf
    cleaning_since_s: float = -math.inf
    due_s: float = -math.inf


UNKNOWN = Context()


def follow(context: Context, readings: Mapping[Role, Reading]) -> Context:
    """Take in what the fan and the cleaning say now; the same context where that changes nothing."""
    fan, cleaning = readings.get(Role.FAN_RUNNING), readings.get(Role.CLEANING_ACTIVE)
    if fan is not None and fan.quality is Quality.GOOD:
        context = _fan_says(context, runs=fan.value == 1.0, at_s=fan.at.mono_s)
    if cleaning is not None and cleaning.quality is Quality.GOOD:
        context = _cleaning_says(context, cleans=cleaning.value == 1.0, at_s=cleaning.at.mono_s)
    return context


def _fan_says(context: Context, *, runs: bool, at_s: float) -> Context:
    if runs is context.fan_runs and (runs or at_s == context.fan_said_s):
        return context  # how long ago a running fan said so matters to nobody
    started_s = at_s if runs and context.fan_runs is False else context.fan_started_s
    return context._replace(fan_runs=runs, fan_said_s=at_s, fan_started_s=started_s)


def _cleaning_says(context: Context, *, cleans: bool, at_s: float) -> Context:
    if cleans is context.cleans and (not cleans or at_s == context.cleaning_said_s):
        return context
    since_s = at_s if cleans and context.cleans is not True else context.cleaning_since_s
    return context._replace(cleans=cleans, cleaning_said_s=at_s, cleaning_since_s=since_s)


def held(plan: CollectorPlan, context: Context, now_s: float) -> tuple[Context, dict[str, Hold]]:
    """Which bands are held back now, by tag; and the context with the moment up to which that stays so."""
    holds: dict[str, Hold] = {}
    due_s = math.inf
    for tag, suppression in plan.suppression.items():
        for hold, until_s in _reasons(plan, suppression, context):
            if now_s < until_s:
                holds.setdefault(tag, hold)
                due_s = min(due_s, until_s)
    return context if context.due_s == due_s else context._replace(due_s=due_s), holds


def _reasons(plan: CollectorPlan, suppression: Suppression, context: Context) -> Iterator[tuple[Hold, float]]:
    """Everything that may hold one band back, and until when (scan seconds) it does if nothing new is said."""
    if suppression.fan_stopped and context.fan_runs is False:
        yield _FAN_STOPPED, context.fan_said_s + _trust_s(plan, Role.FAN_RUNNING)
    if context.fan_runs is not False:
        yield _START_UP, context.fan_started_s + suppression.after_fan_start_s
    if suppression.cleaning and context.cleans:
        trusted_s = context.cleaning_said_s + _trust_s(plan, Role.CLEANING_ACTIVE)
        yield _CLEANING, min(trusted_s, context.cleaning_since_s + suppression.longest_cleaning_s)


def _trust_s(plan: CollectorPlan, role: Role) -> float:
    """How long that point's last word is believed; a hair more than its staleness, which is looked at first."""
    point = plan.points.get(role)
    return 0.0 if point is None else point.channel.stale_after_s + 1e-6
