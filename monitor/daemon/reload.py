"""Reload: what becomes of the collectors' states when the site file changes. Pure.

A collector whose plan is the same keeps its very state. One that changed keeps its alarms by tag and whatever of
its points and windows is unchanged. An alarm that is not normal and is no longer in the file ends with an event.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from monitor.interpret.window import Window
from monitor.judge import watch
from monitor.judge.lifecycle import Alarm
from monitor.scan import turn as scan
from monitor.scan.happenings import removed_event
from monitor.scan.settings import CollectorPlan
from monitor.scan.state import CollectorState
from monitor.words import AlarmState, Event, Instant, Role

Plans = Mapping[str, CollectorPlan]
States = Mapping[str, CollectorState]


def carry_over(
    old: Plans, states: States, new: Plans, now: Instant
) -> tuple[dict[str, CollectorState], list[Event]]:
    """The states to go on with under the new plans, and the alarms that ended because their band is gone."""
    carried = {name: _carry(old.get(name), states.get(name), plan, now) for name, plan in new.items()}
    return carried, list(_removed(old, states, new, now))


def carry_held(old: Plans, held: States, new: Plans, now: Instant) -> dict[str, CollectorState]:
    """The states that outlets still see because an event is not on disk, as the new plans have them.

    Their alarms are those of the new plan: one that was taken out must not be told any more.
    """
    return {name: _carry(old.get(name), held[name], plan, now) for name, plan in new.items() if name in held}


def ended_meanwhile(remembered: Mapping[str, Mapping[str, Alarm]], plans: Plans, now: Instant) -> list[Event]:
    """The remembered alarms that ended because the site file lost their band while nobody watched."""
    return [
        removed_event(name, tag, alarm, now.utc_s)
        for name, tag, alarm in _strangers(remembered, plans)
        if alarm.state is not AlarmState.NORMAL
    ]


def strangers(remembered: Mapping[str, Mapping[str, Alarm]], plans: Plans) -> dict[str, list[str]]:
    """The tags of all remembered alarms that the site file no longer has, by collector."""
    found: dict[str, list[str]] = {}
    for name, tag, _ in _strangers(remembered, plans):
        found.setdefault(name, []).append(tag)
    return found


def _strangers(remembered: Mapping[str, Mapping[str, Alarm]], plans: Plans) -> Iterator[tuple[str, str, Alarm]]:
    for name, alarms in remembered.items():
        known = watch.settings_of(scan.bands_of(plans[name])) if name in plans else {}
        yield from ((name, tag, alarm) for tag, alarm in alarms.items() if tag not in known)


def _carry(
    old: CollectorPlan | None, state: CollectorState | None, new: CollectorPlan, now: Instant
) -> CollectorState:
    if old is None or state is None:
        return scan.begin(new, now)
    if old == new:
        return state
    fresh = scan.begin(
        new,
        now,
        residual=_same_length(state.residual, old.trends.residual_window_s, new.trends.residual_window_s),
        average=_same_length(state.average, old.trends.average_window_s, new.trends.average_window_s),
    )
    kept = [role for role, point in new.points.items() if old.points.get(role) == point]
    watched = watch.begin(scan.bands_of(new), state.watch.alarms)
    looked_s = state.looked_s
    if Role.DP not in kept and looked_s is not None:
        watched, looked_s = watch.blinded(scan.bands_of(new), watched, looked_s), None
    return replace(
        fresh,
        channels={**fresh.channels, **{role: state.channels[role] for role in kept}},
        readings={**fresh.readings, **{role: state.readings[role] for role in kept}},
        watch=watched,
        looked_s=looked_s,
    )


def _same_length(window: Window, old_s: float, new_s: float) -> Window:
    return window if old_s == new_s else Window()


def _removed(old: Plans, states: States, new: Plans, now: Instant) -> Iterator[Event]:
    for name, plan in old.items():
        gone = watch.settings_of(scan.bands_of(plan))
        if name in new:
            for tag in watch.settings_of(scan.bands_of(new[name])):
                gone.pop(tag, None)
        for tag, settings in gone.items():
            alarm = states[name].watch.alarms[tag]
            if alarm.state is not AlarmState.NORMAL:
                yield removed_event(name, tag, alarm, now.utc_s, settings.priority)
