"""Happenings: a transition or a link change becomes an event for the journal, with the figures of the moment."""

from collections.abc import Mapping

from monitor.judge.lifecycle import Alarm, Transition
from monitor.judge.settings import AlarmSettings, Band, Judged
from monitor.judge.watch import Seen
from monitor.scan.settings import CollectorPlan
from monitor.words import AlarmState, Cause, Event, EventKind, LinkChange, Priority, Quality, Reading

Facts = Mapping[str, str | float | int | bool | None]


def alarm_event(plan: CollectorPlan, transition: Transition, seen: Seen, dp: Reading, by: str | None) -> Event:
    """What a transition says in the journal; ``text`` is left to the wording."""
    band = plan.band(transition.tag)
    alarm = plan.bad_signal if band is None else band.alarm
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
        by=by if transition.cause is Cause.PERSON else None,
        occurrence=occurrence(transition.tag, transition.raised_utc_s),
        value=dp.value if band is None else _judged(band, seen),
        setpoint=None if band is None else band.setpoint_inh2o,
        unit="inH2O",
        seen=transition.seen,
        facts=_facts(band, alarm, dp, transition.raised_utc_s),
    )


def removed_event(
    collector: str, tag: str, alarm: Alarm, at_utc_s: float, priority: Priority | None = None
) -> Event:
    """An alarm that was not normal ended because the site file no longer has it.

    Args:
        collector: whose it was.
        tag: its name.
        alarm: how it stood.
        at_utc_s: when that was noticed, Unix seconds.
        priority: None where nobody remembers it.
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
