"""Commands: what a person asked for, carried out or refused, and remembered so that it is never done twice."""

from dataclasses import replace

from monitor.interpret import curve
from monitor.judge import lifecycle, watch
from monitor.judge.alarm import Alarm
from monitor.judge.calm import settings_of
from monitor.judge.moves import Note
from monitor.judge.settings import AlarmSettings
from monitor.scan import links
from monitor.scan.happenings import message_test_event, refused_event, silenced_event, trial_event
from monitor.scan.happenings_filters import action_event, filters_event
from monitor.scan.judging import bands_of, events_of
from monitor.scan.rulebook import TRIGGERS, is_repeat, refuse
from monitor.scan.settings import PlantPlan
from monitor.scan.state import MOST_ANSWERED, Answered, Desk, Outcome, PlantState
from monitor.words import (
    AlarmState,
    Answer,
    AnswerCode,
    Command,
    CommandKind,
    Event,
    Instant,
    Removal,
    Shelf,
)

#: One refusal in this many scan seconds is journaled; those in between are counted in the next.
REFUSAL_EVERY_S = 10.0

#: Refusals that say nothing of the alarm: the sender may mend the command and send it again under its id.
_NOT_REMEMBERED = frozenset(
    {
        AnswerCode.LATE,
        AnswerCode.CLOCKS_DIFFER,
        AnswerCode.UNKNOWN_PERSON,
        AnswerCode.NOT_ALLOWED,
        AnswerCode.ID_REUSED,
    }
)

#: Where an alarm is: its collector or its link (one of the two names is None), its settings and its state.
_Found = tuple[str | None, str | None, AlarmSettings, Alarm]


def take_command(plan: PlantPlan, state: PlantState, command: Command, now: Instant) -> Outcome:
    """Carry out one command, or say why not."""
    if is_repeat(state.desk, command):
        told = state.desk.answered[command.command_id].answer
        return Outcome(answers=(replace(told, repeated=True),))
    found = _find(plan, state, command.tag)
    alarm = None if found is None else found[2:]
    code = refuse(plan.commands, state.desk, command, alarm, now, plan.collectors)
    if code is not None:
        return _refused(state, command, found, code, now)
    return _answered(state, command, _carry_out(plan, state, command, found, now), now)


def _carry_out(
    plan: PlantPlan, state: PlantState, command: Command, found: _Found | None, now: Instant
) -> Outcome:
    if command.kind is CommandKind.FILTERS_CHANGED:
        return _change_filters(plan, state, command, now)
    if command.kind is CommandKind.RECORD_ACTION:
        return Outcome(events=(action_event(command, now.utc_s),))
    if command.kind is CommandKind.TEST_MESSAGE:
        return Outcome(events=(message_test_event(command, now.utc_s),))
    if command.kind is CommandKind.SILENCE or found is None:
        return Outcome(events=(silenced_event(command, now.utc_s),))
    collector, link, settings, alarm = found
    if command.kind is CommandKind.TEST:
        event = trial_event(command, alarm, settings.priority, now.utc_s, collector=collector, link=link)
        return Outcome(events=(event,))
    if link is not None:
        return _move_link(plan, state, link, command, now)
    return _move_alarm(plan, state, str(collector), command, now)


def _change_filters(plan: PlantPlan, state: PlantState, command: Command, now: Instant) -> Outcome:
    settings, before = plan.collectors[command.collector].curve, state.collectors[command.collector]
    at_utc_s = now.utc_s if command.at_utc_s is None else command.at_utc_s
    events = (filters_event(command, at_utc_s, now.utc_s),)
    if settings is None:
        return Outcome(events=events)
    read = curve.filters_changed(settings, before.curve, at_utc_s, now.utc_s)
    return Outcome({command.collector: replace(before, curve=read)}, events)


def _move_alarm(plan: PlantPlan, state: PlantState, name: str, command: Command, now: Instant) -> Outcome:
    own, before = plan.collectors[name], state.collectors[name]
    watched, fired = watch.tell(
        bands_of(own), before.watch, command.tag, TRIGGERS[command.kind], now, before.looked_s, _note(command, now)
    )
    after = replace(before, watch=watched)
    return Outcome({name: after}, events_of(own, after, fired, command))


def _move_link(plan: PlantPlan, state: PlantState, name: str, command: Command, now: Instant) -> Outcome:
    own, before = plan.links[name], state.links[name]
    alarm, fired = lifecycle.command(own.alarm, before.alarm, TRIGGERS[command.kind], now, _note(command, now))
    after = links.moved(own, before, alarm)
    return Outcome(links={name: after}, events=links.events_of(own, after, fired, command))


def _note(command: Command, now: Instant) -> Note:
    reason = " ".join(command.reason.split())
    match command.kind:
        case CommandKind.SHELVE:
            for_s = command.for_s or 0.0
            return Shelf(now.mono_s + for_s, now.utc_s + for_s, command.by, reason, now.utc_s)
        case CommandKind.OUT_OF_SERVICE:
            return Removal(command.by, reason, now.utc_s)
        case _:
            return None


def _find(plan: PlantPlan, state: PlantState, tag: str) -> _Found | None:
    for name, collector in state.collectors.items():
        if tag in collector.watch.alarms:
            settings = settings_of(bands_of(plan.collectors[name]))[tag]
            return name, None, settings, collector.watch.alarms[tag]
    for name, link in plan.links.items():
        if link.alarm.tag == tag:
            return None, name, link.alarm, state.links[name].alarm
    return None


def _refused(state: PlantState, command: Command, found: _Found | None, code: AnswerCode, now: Instant) -> Outcome:
    answer = Answer(
        command_id=command.command_id,
        code=code,
        text="",
        at_utc_s=now.utc_s,
        tag=command.tag,
        state=None if found is None else found[3].state,
    )
    desk = state.desk if code in _NOT_REMEMBERED else _remember(state.desk, command, answer)
    events: tuple[Event, ...] = ()
    if now.mono_s >= desk.refusal_due_s:
        events = (refused_event(command, code, now.utc_s, desk.refused_meanwhile),)
        desk = replace(desk, refusal_due_s=now.mono_s + REFUSAL_EVERY_S, refused_meanwhile=0)
    else:
        desk = replace(desk, refused_meanwhile=desk.refused_meanwhile + 1)
    return Outcome(events=events, desk=desk, answers=(answer,))


def _answered(state: PlantState, command: Command, outcome: Outcome, now: Instant) -> Outcome:
    answer = Answer(
        command_id=command.command_id,
        code=AnswerCode.DONE,
        text="",
        at_utc_s=now.utc_s,
        tag=command.tag,
        state=_state_after(outcome, command.tag),
    )
    return replace(outcome, answers=(answer,), desk=_remember(state.desk, command, answer))


def _state_after(outcome: Outcome, tag: str) -> AlarmState | None:
    for event in reversed(outcome.events):
        if event.tag == tag:
            return event.state
    return None


def _remember(desk: Desk, command: Command, answer: Answer) -> Desk:
    kept = dict(desk.answered)
    kept[command.command_id] = Answered(
        command.kind,
        command.tag,
        command.by,
        answer,
        command.reason,
        command.for_s,
        command.collector,
        command.at_utc_s,
        command.action,
        command.person,
    )
    while len(kept) > MOST_ANSWERED:
        del kept[next(iter(kept))]
    return replace(desk, answered=kept)
