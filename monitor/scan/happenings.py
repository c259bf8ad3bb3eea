"""Happenings: a transition or a link change becomes an event for the journal, with the figures of the moment."""

from collections.abc import Mapping

from monitor.judge.lifecycle import Transition
from monitor.judge.settings import AlarmSettings, Band, Judged
from monitor.judge.watch import Seen
from monitor.scan.settings import CollectorPlan
from monitor.words import AlarmState, Cause, Event, EventKind, LinkChange, Quality, Reading

Facts = Mapping[str, str | float | int | bool | None]


def alarm_event(plan: CollectorPlan, transition: Transition, seen: Seen, dp: Reading, by: str | None) -> Event:
    """What a transition says in the journal; ``text`` is left to the wording."""
    band = _band(plan, transition.tag)
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
        facts=_facts(band, alarm, dp),
    )


def removed_event(
    collector: str, alarm: AlarmSettings, state: AlarmState, raised_utc_s: float | None, at_utc_s: float
) -> Event:
    """An alarm that was not normal ended because the site file no longer has it."""
    return Event(
        kind=EventKind.ALARM,
        happened="removed",
        at_utc_s=at_utc_s,
        text="",
        collector=collector,
        tag=alarm.tag,
        priority=alarm.priority,
        state_before=state,
        state=AlarmState.NORMAL,
        cause=Cause.SITE_FILE,
        occurrence=occurrence(alarm.tag, raised_utc_s),
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


def _band(plan: CollectorPlan, tag: str) -> Band | None:
    return next((band for band in plan.bands if band.alarm.tag == tag), None)


def _judged(band: Band, seen: Seen) -> float | None:
    match band.judged:
        case Judged.DAMPED:
            return seen.damped
        case Judged.RESIDUAL:
            return seen.residual
        case Judged.AVERAGE:
            return seen.average


def _facts(band: Band | None, alarm: AlarmSettings, dp: Reading) -> Facts:
    facts: dict[str, str | float | int | bool | None] = {
        "latching": alarm.latching,
        "auto_clear_s": alarm.auto_clear_s,
    }
    if band is None:
        facts["condition"] = "bad_signal"
    else:
        facts |= {"condition": "band", "side": band.side.value, "judged": band.judged.value}
    if dp.quality is not Quality.GOOD:
        facts |= {"quality": dp.quality.value, "reason": dp.reason.value, "detail": dp.detail}
    return facts
