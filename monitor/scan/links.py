"""Links: the alarm of each link, and which alarms of the collectors it explains.

A link is lost when it is not connected, or when it has two units and more and none of them answers: then what
they share is at fault (the gateway's far side, the cable), and one alarm says so instead of one for each.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from monitor.judge import lifecycle
from monitor.judge.alarm import Alarm, Presence, Transition
from monitor.judge.lifecycle import keep_promise, pause
from monitor.judge.watch import explains
from monitor.scan.happenings import link_alarm_event
from monitor.scan.settings import CollectorPlan, LinkAlarmPlan, PlantPlan
from monitor.scan.state import LinkState
from monitor.words import BlockRead, Command, Event, Hold, HoldReason, Instant, LinkChange, Reason, UnitScan

Looked = tuple[LinkState, tuple[Event, ...]]

#: Something answered, if only to say no; a gateway that speaks for a silent unit (exceptions 0A and 0B, Modbus
#: Application Protocol V1.1b3 §7) is read as a silent unit by whoever reads the link.
_ANSWERS = frozenset({Reason.EXCEPTION_CODE, Reason.MALFORMED_REPLY})


def begin(now: Instant, alarm: Alarm | None = None) -> LinkState:
    """A link of which nothing was heard yet, with the alarm that is remembered of it."""
    return LinkState(alarm=pause(keep_promise(alarm or Alarm(), now), now.mono_s))


def take_change(plan: LinkAlarmPlan, state: LinkState, change: LinkChange, now: Instant) -> Looked:
    """The connection came or went; whether units answer is asked anew."""
    return look(plan, replace(state, connected=change.connected, answers={}, detail=change.detail), now)


def take_scan(plan: LinkAlarmPlan, state: LinkState, scan: UnitScan, now: Instant) -> Looked:
    """A unit answered, or did not."""
    answers = any(_is_answer(read) for read in scan.reads)
    if state.answers.get(scan.unit_id) is answers or not state.connected:
        return state, ()
    return look(plan, replace(state, answers={**state.answers, scan.unit_id: answers}), now)


def look(plan: LinkAlarmPlan, state: LinkState, now: Instant) -> Looked:
    """Judge the link as it is known now."""
    alarm, fired = lifecycle.advance(plan.alarm, state.alarm, _presence(plan, state), now)
    return _settled(plan, state, alarm), events_of(plan, state, fired)


def events_of(
    plan: LinkAlarmPlan, state: LinkState, fired: Iterable[Transition], command: Command | None = None
) -> tuple[Event, ...]:
    """The transitions as events."""
    detail = "not connected" if state.connected is False else "connected, but no unit on it answers"
    if plan.is_phone:
        detail = state.detail
    if _presence(plan, state) is not Presence.PRESENT:
        detail = ""
    return tuple(link_alarm_event(plan, one, detail, command) for one in fired)


def moved(plan: LinkAlarmPlan, state: LinkState, alarm: Alarm) -> LinkState:
    """The link with its alarm after a person did something."""
    return _settled(plan, state, alarm)


def explained(plan: CollectorPlan, plant: PlantPlan, links: Mapping[str, LinkState]) -> dict[str, Hold]:
    """Which of the collector's alarms are explained by the alarm of a link, by tag."""
    standing = {one.alarm.tag for name, one in plant.links.items() if explains(links[name].alarm)}
    if not standing:
        return {}
    return {
        alarm.tag: Hold(HoldReason.CONSEQUENCE, cause)
        for alarm in plan.alarms
        for cause in alarm.causes
        if cause in standing
    }


def _is_answer(read: BlockRead) -> bool:
    return read.failure is None or read.failure.reason in _ANSWERS


def _presence(plan: LinkAlarmPlan, state: LinkState) -> Presence:
    if state.connected is None:
        return Presence.BLIND
    silent = len(plan.units) > 1 and all(state.answers.get(unit) is False for unit in plan.units)
    return Presence.PRESENT if silent or not state.connected else Presence.ABSENT


def _settled(plan: LinkAlarmPlan, state: LinkState, alarm: Alarm) -> LinkState:
    return replace(state, alarm=alarm, due_s=lifecycle.due_s(plan.alarm, alarm))
