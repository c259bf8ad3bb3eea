"""Turn: one input taken in. (plan, state, input, now) → outcome.

Whatever enters the house comes through here in one order: register words, the passing of time, what a person
asks. Replaying the same inputs with the same instants gives the same outcome, live, in rehearsal and in tests.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from monitor.judge.alarm import Alarm
from monitor.scan import judging, links
from monitor.scan.arrivals import arrive, by_collector, grow_old
from monitor.scan.commands import take_command
from monitor.scan.happenings import link_event
from monitor.scan.happenings_filters import noticed_event
from monitor.scan.settings import PlantPlan
from monitor.scan.state import CollectorState, Desk, LinkState, Outcome, PlantState
from monitor.scan.suspecting import with_suspicions
from monitor.words import Command, Event, Instant, LinkChange, Role, UnitScan


@dataclass(frozen=True, slots=True)
class Tick:
    """Time passed: delays may have run out, readings may have grown stale."""


Input = UnitScan | LinkChange | Tick | Command


def begin(
    plan: PlantPlan,
    now: Instant,
    collectors: Mapping[str, CollectorState] | None = None,
    link_alarms: Mapping[str, Alarm] | None = None,
    desk: Desk | None = None,
) -> PlantState:
    """A plant of which nothing was read yet, or what is known of it taken up again.

    Args:
        plan: what is watched.
        now: this moment.
        collectors: those that do not begin anew, by name.
        link_alarms: the remembered alarms of the links, by link.
        desk: the commands answered so far.
    """
    known, alarms = collectors or {}, link_alarms or {}
    states = {name: known.get(name) or judging.begin(own, now) for name, own in plan.collectors.items()}
    beginning = {name: links.begin(now, alarms.get(name)) for name in plan.links}
    return explain_all(plan, PlantState(states, beginning, desk or Desk()))


def explain_all(plan: PlantPlan, state: PlantState) -> PlantState:
    """The same state with what the links explain written into every collector; judged at the next turn."""
    collectors = dict(state.collectors)
    for name, one in state.collectors.items():
        explained = links.explained(plan.collectors[name], plan, state.links)
        if explained != one.explained:
            collectors[name] = replace(one, explained=explained, context=one.context._replace(due_s=-math.inf))
    return replace(state, collectors=collectors)


def turn(plan: PlantPlan, state: PlantState, what: Input, now: Instant) -> Outcome:
    """Take in one input. Collectors and links that are no longer planned are passed over.

    Args:
        plan: what is watched, and how it is judged.
        state: one for each collector and link of the plan.
        what: the input.
        now: not before the instant of the turn before.
    """
    match what:
        case UnitScan():
            outcome = _take_words(plan, state, what, now)
        case Tick():
            outcome = _take_time(plan, state, now)
        case Command():
            outcome = take_command(plan, state, what, now)
        case LinkChange():
            outcome = _take_link(plan, state, what, now)
    # Time has explained already what it moved.
    if outcome.links and not isinstance(what, Tick):
        outcome = _explain(plan, state, outcome, now)
    if not any(event.happened == "raised" for event in outcome.events):
        return outcome
    return replace(outcome, events=with_suspicions(plan, outcome.onto(state), outcome.events))


def _take_words(plan: PlantPlan, state: PlantState, scan: UnitScan, now: Instant) -> Outcome:
    changed: dict[str, CollectorState] = {}
    events: tuple[Event, ...] = ()
    for name, arrivals in by_collector(scan.reads).items():
        own = plan.collectors.get(name)
        if own is None:
            continue  # taken out of the site file while the request was under way
        before_it = state.collectors[name]
        arrived, with_dp = arrive(own, before_it, arrivals)
        events += _noticed(name, before_it, arrived, now)
        judge = judging.judge if with_dp else judging.regard
        changed[name], done = judge(own, arrived, now)
        events += done
    link = plan.links.get(scan.link)
    if link is None:
        return Outcome(changed, events)
    before = state.links[scan.link]
    after, said = links.take_scan(link, before, scan, now)
    # The link first: what is explained by it comes second.
    return Outcome(changed, said + events, {} if after is before else {scan.link: after})


def _noticed(name: str, before: CollectorState, after: CollectorState, now: Instant) -> tuple[Event, ...]:
    """A new set of filters that showed in the curve and that nobody told of."""
    was, aged = before.curve.ageing, after.curve.ageing
    if was is aged or not aged.noticed or aged.since_utc_s is None or was.since_utc_s == aged.since_utc_s:
        return ()
    return (noticed_event(name, aged.since_utc_s, now.utc_s),)


def _take_link(plan: PlantPlan, state: PlantState, change: LinkChange, now: Instant) -> Outcome:
    link = plan.links.get(change.link)
    if link is None:
        return Outcome(events=(link_event(change),))
    after, said = links.take_change(link, state.links[change.link], change, now)
    # That people can be reached is no news by itself; that nobody can is said by the alarm.
    told = said if link.is_phone else (link_event(change), *said)
    return Outcome(events=told, links={change.link: after})


def _take_time(plan: PlantPlan, state: PlantState, now: Instant) -> Outcome:
    """Readings may have grown stale, a hold or a shelf may end, a signal may have been bad for too long."""
    changed_links: dict[str, LinkState] = {}
    events: tuple[Event, ...] = ()
    for name, link in plan.links.items():
        if now.mono_s >= state.links[name].due_s:
            changed_links[name], done = links.look(link, state.links[name], now)
            events += done
    if changed_links:
        # Causes first: what they explain is held back before its own time is looked at.
        explained = _explain(plan, state, Outcome(events=events, links=changed_links), now)
        state, events = explained.onto(state), explained.events
        changed = dict(explained.changed)
    else:
        changed = {}
    for name, own in plan.collectors.items():
        before = state.collectors[name]
        aged = grow_old(own, before, now)
        if aged is before and now.mono_s < min(before.watch.tick_due_s, before.context.due_s):
            continue
        dp_aged = aged.readings[Role.DP] is not before.readings[Role.DP]
        changed[name], done = (judging.judge if dp_aged else judging.wait)(own, aged, now)
        events += done
    return Outcome(changed, events, changed_links)


def _explain(plan: PlantPlan, state: PlantState, outcome: Outcome, now: Instant) -> Outcome:
    """Hold back, or release, what follows from the links that changed."""
    after, changed, events = outcome.onto(state), dict(outcome.changed), outcome.events
    for name, own in plan.collectors.items():
        before = after.collectors[name]
        explained = links.explained(own, plan, after.links)
        one, done = judging.explain(own, before, explained, now)
        if one is not before:
            changed[name] = one
            events += done
    return replace(outcome, changed=changed, events=events)
