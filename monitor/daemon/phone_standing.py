"""Phone standing: alarms that stand unanswered when people are named, first or anew: as if raised just then."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from monitor.daemon.core import Core
from monitor.judge.alarm import Alarm, Transition
from monitor.scan import links
from monitor.scan.judging import events_of
from monitor.scan.state import PlantState
from monitor.scan.suspecting import suspicions
from monitor.tell.wording import sentence
from monitor.words import AlarmState, Cause, Event, Instant


def standing(core: Core, now: Instant) -> Iterator[Event]:
    """Every alarm that is active and that nobody has acknowledged, as an event that raises it.

    The events are not the journal's: they bear no number, and an id of the alarm's occurrence.
    """
    plant = PlantState(dict(core.told()), dict(core.told_links()))
    for name, state in plant.collectors.items():
        plan = core.plans[name]
        raised = [_raised(tag, one, now) for tag, one in state.watch.alarms.items() if _waits(one)]
        for event in events_of(plan, state, raised):
            behind = suspicions(core.plan, plant, name, event.tag or "")
            yield _named(replace(event, suspicions=behind))
    for name, link in plant.links.items():
        link_plan = core.plan.links[name]
        if _waits(link.alarm) and not link_plan.is_phone:
            yield from _all(links.events_of(link_plan, link, [_raised(link_plan.alarm.tag, link.alarm, now)]))


def _waits(alarm: Alarm) -> bool:
    return alarm.state is AlarmState.UNACKNOWLEDGED


def _raised(tag: str, alarm: Alarm, now: Instant) -> Transition:
    at = now if alarm.raised_utc_s is None else Instant(now.mono_s, alarm.raised_utc_s)
    return Transition(
        tag=tag,
        happened="raised",
        before=AlarmState.NORMAL,
        state=alarm.state,
        cause=Cause.PROCESS,
        at=at,
        raised_utc_s=alarm.raised_utc_s,
        seen=False,
        note=None,
        stands=True,
    )


def _all(events: Iterable[Event]) -> Iterator[Event]:
    return (_named(event) for event in events)


def _named(event: Event) -> Event:
    return replace(event, text=sentence(event), event_id=f"standing-{event.occurrence or event.tag}")
