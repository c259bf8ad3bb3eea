"""Reload: what becomes of the collectors' states when the site file changes. Pure.

A collector whose plan is the same keeps its very state. One that changed keeps its alarms by tag and whatever of
its points and windows is unchanged. An alarm that is not normal and is no longer in the file ends with an event.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

from monitor.interpret.symptoms import looking
from monitor.interpret.window import Window
from monitor.judge import watch
from monitor.judge.alarm import Alarm
from monitor.judge.calm import settings_of
from monitor.scan import judging, links
from monitor.scan.happenings import removed_event
from monitor.scan.settings import CollectorPlan, LinkAlarmPlan, PlantPlan
from monitor.scan.state import CollectorState, PlantState
from monitor.scan.turn import explain_all
from monitor.words import AlarmState, Event, Instant, Role

Plans = Mapping[str, CollectorPlan]
States = Mapping[str, CollectorState]


def carry_over(old: PlantPlan, state: PlantState, new: PlantPlan, now: Instant) -> tuple[PlantState, list[Event]]:
    """The state to go on with under the new plan, and the alarms that ended because it no longer has them."""
    ended = [
        *_removed(old.collectors, state.collectors, new.collectors, now),
        *_removed_links(old, state, new, now),
    ]
    orphans = _orphans(old, state, new)
    collectors = {
        name: _carry(old.collectors.get(name), state.collectors.get(name), plan, now, orphans)
        for name, plan in new.collectors.items()
    }
    carried = {
        name: state.links[name] if _is_same_link(old, new, name) else links.begin(now) for name in new.links
    }
    return explain_all(new, PlantState(collectors, carried, state.desk)), ended


def _orphans(old: PlantPlan, state: PlantState, new: PlantPlan) -> dict[str, Alarm]:
    """The alarms of collectors that are gone, by tag: a renamed collector finds its own again."""
    gone = [name for name in old.collectors if name not in new.collectors]
    return {tag: alarm for name in gone for tag, alarm in state.collectors[name].watch.alarms.items()}


def _is_same_link(old: PlantPlan, new: PlantPlan, name: str) -> bool:
    """Whether a link's alarm goes on: it is known by its tag, as every alarm is."""
    return name in old.links and old.links[name].alarm.tag == new.links[name].alarm.tag


def _removed_links(old: PlantPlan, state: PlantState, new: PlantPlan, now: Instant) -> Iterator[Event]:
    for name, plan in old.links.items():
        alarm = state.links[name].alarm
        if alarm.state is not AlarmState.NORMAL and not (name in new.links and _is_same_link(old, new, name)):
            yield removed_event(None, plan.alarm.tag, alarm, now.utc_s, plan.alarm.priority, link=name)


def carry_held(old: Plans, held: States, new: Plans, now: Instant) -> dict[str, CollectorState]:
    """The states that outlets still see because an event is not on disk, as the new plans have them.

    Their alarms are those of the new plan: one that was taken out must not be told any more.
    """
    return {name: _carry(old.get(name), held[name], plan, now, {}) for name, plan in new.items() if name in held}


def ended_meanwhile(remembered: Mapping[str, Mapping[str, Alarm]], plans: Plans, now: Instant) -> list[Event]:
    """The remembered alarms that ended because the site file lost their band while nobody watched."""
    known = {alarm.tag for name, plan in plans.items() if name not in remembered for alarm in plan.alarms}
    return [
        removed_event(name, tag, alarm, now.utc_s)
        for name, tag, alarm in _strangers(remembered, plans)
        if alarm.state is not AlarmState.NORMAL and not (name not in plans and tag in known)
    ]


def strangers(remembered: Mapping[str, Mapping[str, Alarm]], plans: Plans) -> dict[str, list[str]]:
    """The tags of all remembered alarms that the site file no longer has, by collector."""
    found: dict[str, list[str]] = {}
    for name, tag, _ in _strangers(remembered, plans):
        found.setdefault(name, []).append(tag)
    return found


def links_ended_meanwhile(
    remembered: Mapping[str, Mapping[str, Alarm]], plans: Mapping[str, LinkAlarmPlan], now: Instant
) -> list[Event]:
    """The same of the alarms of links."""
    return [
        removed_event(None, tag, remembered[name][tag], now.utc_s, link=name)
        for name, tags in link_strangers(remembered, plans).items()
        for tag in tags
        if remembered[name][tag].state is not AlarmState.NORMAL
    ]


def link_strangers(
    remembered: Mapping[str, Mapping[str, Alarm]], plans: Mapping[str, LinkAlarmPlan]
) -> dict[str, list[str]]:
    """The tags of remembered link alarms that the site file no longer has, by link."""
    found = {
        name: [tag for tag in alarms if name not in plans or plans[name].alarm.tag != tag]
        for name, alarms in remembered.items()
    }
    return {name: tags for name, tags in found.items() if tags}


def tags_of(plan: PlantPlan) -> set[str]:
    """Every alarm's tag."""
    own = {alarm.tag for collector in plan.collectors.values() for alarm in collector.alarms}
    return own | {link.alarm.tag for link in plan.links.values()}


def _strangers(remembered: Mapping[str, Mapping[str, Alarm]], plans: Plans) -> Iterator[tuple[str, str, Alarm]]:
    for name, alarms in remembered.items():
        known = settings_of(judging.bands_of(plans[name])) if name in plans else {}
        yield from ((name, tag, alarm) for tag, alarm in alarms.items() if tag not in known)


def _carry(
    old: CollectorPlan | None,
    state: CollectorState | None,
    new: CollectorPlan,
    now: Instant,
    orphans: Mapping[str, Alarm],
) -> CollectorState:
    if old is None or state is None:
        return judging.begin(new, now, orphans)
    if old == new:
        return state
    fresh = judging.begin(
        new,
        now,
        residual=_same_length(state.residual, old.trends.residual_window_s, new.trends.residual_window_s),
        average=_same_length(state.average, old.trends.average_window_s, new.trends.average_window_s),
    )
    kept = [role for role, point in new.points.items() if old.points.get(role) == point]
    watched = watch.begin(judging.bands_of(new), state.watch.alarms)
    looked_s = state.looked_s
    if Role.DP not in kept and looked_s is not None:
        watched, looked_s = watch.blinded(judging.bands_of(new), watched, looked_s), None
    return replace(
        fresh,
        channels={**fresh.channels, **{role: state.channels[role] for role in kept}},
        readings={**fresh.readings, **{role: state.readings[role] for role in kept}},
        watch=watched,
        looked_s=looked_s,
        context=state.context._replace(due_s=-math.inf),
        curve=state.curve if Role.DP in kept else state.curve._replace(looking=looking.BEGIN),
    )


def _same_length(window: Window, old_s: float, new_s: float) -> Window:
    return window if old_s == new_s else Window()


def _removed(old: Plans, states: States, new: Plans, now: Instant) -> Iterator[Event]:
    for name, plan in old.items():
        gone = settings_of(judging.bands_of(plan))
        # A tag is one alarm over the whole site: under another collector's name it goes on.
        for one in [new[name]] if name in new else [one for one in new.values() if one.name not in old]:
            for tag in settings_of(judging.bands_of(one)):
                gone.pop(tag, None)
        for tag, settings in gone.items():
            alarm = states[name].watch.alarms[tag]
            if alarm.state is not AlarmState.NORMAL:
                yield removed_event(name, tag, alarm, now.utc_s, settings.priority)
