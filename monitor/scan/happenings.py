"""Happenings: a transition or a link change becomes an event for the journal, with the figures of the moment."""

from collections.abc import Mapping

from monitor.interpret.curve import Signs
from monitor.judge.alarm import Alarm, Transition
from monitor.judge.calm import Seen
from monitor.judge.settings import AlarmSettings, Band, Judged
from monitor.judge.table import HELD
from monitor.scan.settings import CollectorPlan, LinkAlarmPlan
from monitor.troubles import Clue, Sign
from monitor.words import (
    AlarmState,
    AnswerCode,
    Cause,
    Command,
    Event,
    EventKind,
    Hold,
    LinkChange,
    Priority,
    Quality,
    Reading,
    Removal,
    Shelf,
)

Facts = Mapping[str, str | float | int | bool | None]


def alarm_event(
    plan: CollectorPlan,
    transition: Transition,
    seen: Seen,
    dp: Reading,
    command: Command | None = None,
    *,
    is_held: bool = False,
    signs: Signs = (),
) -> Event:
    """What a transition says in the journal; ``text`` is left to the wording.

    Args:
        plan: of the collector.
        transition: what changed.
        seen: what was judged.
        dp: the newest reading of the DP.
        command: what a person had asked for, where that is what moved the alarm.
        is_held: something holds the alarm back by design after all that has happened now.
        signs: what stands of the early warnings.
    """
    band, alarm = plan.band(transition.tag), settings_of(plan, transition.tag)
    sign = plan.sign(transition.tag)
    clue = next((clue for one, clue in signs if one is sign), None)
    value, unit = _value(band, sign, clue, seen, dp)
    return Event(
        kind=EventKind.ALARM,
        happened=transition.happened,
        at_utc_s=transition.at.utc_s,
        text="",
        collector=plan.name,
        tag=transition.tag,
        priority=alarm.priority,
        state_before=transition.before,
        state=transition.state,
        cause=transition.cause,
        by=command.by if command and transition.cause is Cause.PERSON else None,
        occurrence=occurrence(transition.tag, transition.raised_utc_s),
        value=value,
        setpoint=None if band is None else band.setpoint_inh2o,
        unit=unit,
        seen=transition.seen,
        facts={
            **_facts(band, alarm, dp, transition.raised_utc_s),
            **_sign_facts(sign, clue),
            **_why(transition, is_held=is_held),
            **asked(command),
        },
    )


def settings_of(plan: CollectorPlan, tag: str) -> AlarmSettings:
    """The settings of that alarm, the bad signal's where it is no other's."""
    return next((alarm for alarm in plan.alarms if alarm.tag == tag), plan.bad_signal)


def _value(
    band: Band | None, sign: Sign | None, clue: Clue | None, seen: Seen, dp: Reading
) -> tuple[float | None, str | None]:
    """The figure an alarm goes by, and its unit."""
    if band is not None:
        return _judged(band, seen), "inH2O"
    if sign is None:
        return dp.value, "inH2O"
    return (None, None) if clue is None else (clue.value, clue.unit or None)


def _sign_facts(sign: Sign | None, clue: Clue | None) -> Facts:
    if sign is None:
        return {}
    shown: Facts = {} if clue is None else {"clue": clue.kind, "usual": clue.usual}
    return {"condition": "early_warning", "sign": sign.value, **shown}


def link_alarm_event(
    plan: LinkAlarmPlan, transition: Transition, detail: str, command: Command | None = None
) -> Event:
    """What a transition of a link's alarm says; ``detail`` is how the link is, in a short English phrase."""
    facts: dict[str, str | float | int | bool | None] = {
        "condition": "link_lost",
        "detail": detail,
        "latching": plan.alarm.latching,
        "on_delay_s": plan.alarm.on_delay_s,
        "auto_clear_s": plan.alarm.auto_clear_s,
        "raised_utc_s": transition.raised_utc_s,
    }
    return Event(
        kind=EventKind.ALARM,
        happened=transition.happened,
        at_utc_s=transition.at.utc_s,
        text="",
        link=plan.name,
        tag=transition.tag,
        priority=plan.alarm.priority,
        state_before=transition.before,
        state=transition.state,
        cause=transition.cause,
        by=command.by if command and transition.cause is Cause.PERSON else None,
        occurrence=occurrence(transition.tag, transition.raised_utc_s),
        seen=transition.seen,
        facts={**facts, **_why(transition, is_held=False), **asked(command)},
    )


def trial_event(
    command: Command,
    alarm: Alarm,
    priority: Priority,
    at_utc_s: float,
    *,
    collector: str | None = None,
    link: str | None = None,
) -> Event:
    """A person tests how an alarm is told; its state stays as it is."""
    return Event(
        kind=EventKind.ALARM,
        happened="tested",
        at_utc_s=at_utc_s,
        text="",
        collector=collector,
        link=link,
        tag=command.tag,
        priority=priority,
        state_before=alarm.state,
        state=alarm.state,
        cause=Cause.PERSON,
        by=command.by,
        occurrence=occurrence(command.tag, alarm.raised_utc_s),
        facts=asked(command),
    )


def silenced_event(command: Command, at_utc_s: float) -> Event:
    """A person silenced the horn; no alarm is answered by that."""
    return Event(
        kind=EventKind.SYSTEM,
        happened="silenced",
        at_utc_s=at_utc_s,
        text="",
        cause=Cause.PERSON,
        by=command.by,
        facts=asked(command),
    )


def message_test_event(command: Command, at_utc_s: float) -> Event:
    """A person asked for a test message; ``to`` is empty where it goes to everybody who can be called."""
    return Event(
        kind=EventKind.SYSTEM,
        happened="message_test_asked",
        at_utc_s=at_utc_s,
        text="",
        cause=Cause.PERSON,
        by=command.by,
        facts={**asked(command), "to": command.person},
    )


def refused_event(command: Command, code: AnswerCode, at_utc_s: float, meanwhile: int) -> Event:
    """A command was refused; ``meanwhile`` others were since the last that was told."""
    return Event(
        kind=EventKind.SYSTEM,
        happened="command_refused",
        at_utc_s=at_utc_s,
        text="",
        collector=command.collector or None,
        tag=command.tag or None,
        by=command.by,
        facts={
            **asked(command),
            "command": command.kind.value,
            "code": code.value,
            "refused_meanwhile": meanwhile,
        },
    )


def removed_event(
    collector: str | None,
    tag: str,
    alarm: Alarm,
    at_utc_s: float,
    priority: Priority | None = None,
    link: str | None = None,
) -> Event:
    """An alarm that was not normal ended because the site file no longer has it.

    Args:
        collector: whose it was; None where it was a link's.
        tag: its name.
        alarm: how it stood.
        at_utc_s: when that was noticed, Unix seconds.
        priority: None where nobody remembers it.
        link: whose it was, if a link's.
    """
    return Event(
        kind=EventKind.ALARM,
        happened="removed",
        at_utc_s=at_utc_s,
        text="",
        collector=collector,
        tag=tag,
        priority=priority,
        state_before=alarm.state,
        state=AlarmState.NORMAL,
        cause=Cause.SITE_FILE,
        occurrence=occurrence(tag, alarm.raised_utc_s),
        link=link,
    )


def link_event(change: LinkChange) -> Event:
    """A link came or went."""
    return Event(
        kind=EventKind.LINK,
        happened="restored" if change.connected else "lost",
        at_utc_s=change.at.utc_s,
        text="",
        link=change.link,
        facts={"detail": change.detail},
    )


def occurrence(tag: str, raised_utc_s: float | None) -> str | None:
    """One name for all that happens from one raising of an alarm to its end."""
    return None if raised_utc_s is None else f"{tag}@{raised_utc_s:.3f}"


def _judged(band: Band, seen: Seen) -> float | None:
    match band.judged:
        case Judged.DAMPED:
            return seen.damped
        case Judged.RESIDUAL:
            return seen.residual
        case Judged.AVERAGE:
            return seen.average


def _facts(band: Band | None, alarm: AlarmSettings, dp: Reading, raised_utc_s: float | None) -> Facts:
    facts: dict[str, str | float | int | bool | None] = {
        "latching": alarm.latching,
        "on_delay_s": alarm.on_delay_s,
        "auto_clear_s": alarm.auto_clear_s,
        "raised_utc_s": raised_utc_s,
    }
    if band is None:
        facts["condition"] = "bad_signal"
    else:
        facts |= {"condition": "band", "side": band.side.value, "judged": band.judged.value}
    if dp.quality is not Quality.GOOD:
        facts |= {"quality": dp.quality.value, "reason": dp.reason.value, "detail": dp.detail}
    return facts


def _why(transition: Transition, *, is_held: bool) -> Facts:
    """What held the alarm back, or who put it aside."""
    # Where it does not stand its on-delay may be running: nothing can be promised.
    came_out = transition.before in HELD and transition.state not in HELD
    stands: Facts = {"stands": True} if transition.stands and came_out and not is_held else {}
    match transition.note:
        case Hold(why=why, under=under):
            return {"why": why.value, "under": under or None, **stands}
        case Shelf() as shelf:
            told: Facts = {"until_utc_s": shelf.until_utc_s, "reason": shelf.reason, "shelved_by": shelf.by}
            return {**told, **stands}
        case Removal() as removal:
            return {"reason": removal.reason, "taken_by": removal.by, **stands}
        case None:
            return {}


def asked(command: Command | None) -> Facts:
    """The command that brought it about."""
    return {} if command is None else {"command_id": command.command_id, "door": command.door.value}
