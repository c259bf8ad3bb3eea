"""Payloads, alarms: the JSON of one alarm of a collector or of a link, and of all of them as a list.

A held alarm says by whom or what, why and until when, and ``stands`` whether its condition is there all the same.
"""

from collections.abc import Mapping
from typing import Any

from monitor.judge.alarm import Alarm
from monitor.judge.settings import AlarmSettings, Band, Judged
from monitor.judge.table import ACTIVE, HELD, UNANSWERED, WAITING
from monitor.scan.settings import CollectorPlan, LinkAlarmPlan, PlantPlan
from monitor.scan.state import CollectorState, PlantState
from monitor.scan.suspecting import suspicions
from monitor.tell.heading import SiteHeading
from monitor.tell.notation import number, rfc3339
from monitor.tell.wording_causes import cause_short
from monitor.tell.wording_phone import CHECK, LOST
from monitor.tell.wording_standing import standing_in_words
from monitor.troubles import Sign
from monitor.words import AlarmState, Hold, Instant, Quality, Removal, Role, Shelf

Payload = dict[str, Any]

_LATCHED = frozenset({AlarmState.LATCHED_UNACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED})


def alarm_state(site: SiteHeading, plan: CollectorPlan, state: CollectorState, tag: str, at: Instant) -> Payload:
    """One alarm of a collector as of ``at``; KeyError for a tag that the collector does not have."""
    alarm = state.watch.alarms[tag]
    settings = next((one for one in plan.alarms if one.tag == tag), None)
    if settings is None:
        raise KeyError(tag)
    where = {"collector": plan.name, "link": None}
    return _alarm(site, where, settings, alarm, at) | _condition(plan.band(tag), plan.sign(tag))


def link_alarm_state(site: SiteHeading, plan: LinkAlarmPlan, alarm: Alarm, at: Instant) -> Payload:
    """The alarm of one link as of ``at``."""
    where = {"collector": None, "link": plan.name}
    told = _alarm(site, where, plan.alarm, alarm, at)
    if not plan.is_phone:
        return told | _without_setpoint("link_lost")
    if told["active"]:
        told["text"] = f"{LOST}: {told['text']}"
    return told | _without_setpoint("nobody_reached")


def alarm_list(
    site: SiteHeading,
    plant: PlantPlan,
    collectors: Mapping[str, CollectorState],
    links: Mapping[str, Alarm],
    at: Instant,
    only: frozenset[AlarmState] = frozenset(AlarmState),
    of: str | None = None,
) -> list[Payload]:
    """Every alarm of the site as of ``at``, each with the value it judges, the most urgent first.

    Active ones come first by priority, among equals those that nobody has acknowledged and then the newest; after
    them those that wait for a person, those that are held (their condition there, then not), and the normal ones.

    Args:
        site: the site.
        plant: its alarms. One without a state yet is left out.
        collectors: how each collector stands, by name.
        links: how the alarm of each link stands, by the link's name.
        at: this moment.
        only: alarms in one of these states; the others are passed over.
        of: those of this collector; None for all, the links' too.
    """
    listed: list[tuple[tuple[object, ...], Payload]] = []
    known = {name: collectors[name] for name in plant.collectors if name in collectors}
    seen = PlantPlan(collectors={name: plant.collectors[name] for name in known}), PlantState(known)
    for name, plan in plant.collectors.items():
        state = collectors.get(name) if of in (None, name) else None
        for settings in plan.alarms if state is not None else ():
            if state is not None and (alarm := _among(state.watch.alarms.get(settings.tag), only)) is not None:
                told = alarm_state(site, plan, state, settings.tag, at)
                told["value"] = _judged(plan.band(settings.tag), state)
                told["behind"] = _behind(*seen, name, settings.tag) if told["active"] else None
                listed.append((_urgency(settings, alarm), told))
    for name, link in plant.links.items() if of is None else ():
        if (alarm := _among(links.get(name), only)) is not None:
            told = link_alarm_state(site, link, alarm, at)
            first = f"Check first: {CHECK}" if link.is_phone and told["active"] else None
            told |= {"value": None, "behind": first}
            listed.append((_urgency(link.alarm, alarm), told))
    return [told for _, told in sorted(listed, key=lambda one: one[0])]


def _among(alarm: Alarm | None, only: frozenset[AlarmState]) -> Alarm | None:
    return alarm if alarm is not None and alarm.state in only else None


def alarms_in_sum(plan: CollectorPlan, alarms: Mapping[str, Alarm]) -> Payload:
    """The alarms of one collector as counts."""
    known = [(settings, alarms[settings.tag].state) for settings in plan.alarms if settings.tag in alarms]
    active = [settings.priority for settings, state in known if state in ACTIVE]
    return {
        "active": len(active),
        "unacknowledged": sum(state in UNANSWERED for _, state in known),
        "latched": sum(state in _LATCHED for _, state in known),
        "shelved": sum(state is AlarmState.SHELVED for _, state in known),
        "suppressed_by_design": sum(state is AlarmState.SUPPRESSED_BY_DESIGN for _, state in known),
        "out_of_service": sum(state is AlarmState.OUT_OF_SERVICE for _, state in known),
        "highest_priority": max(active, key=lambda priority: priority.rank).value if active else None,
    }


def _alarm(site: SiteHeading, where: Payload, settings: AlarmSettings, alarm: Alarm, at: Instant) -> Payload:
    return {
        "site": site.name,
        **where,
        "tag": settings.tag,
        "at": rfc3339(at.utc_s),
        "priority": settings.priority.value,
        "state": alarm.state.value,
        "text": standing_in_words(alarm),
        "active": alarm.state in ACTIVE,
        "stands": alarm.stands or alarm.state in ACTIVE,
        "seen": alarm.seen,
        "since": _stamp(alarm.since_utc_s),
        "raised": _stamp(alarm.raised_utc_s),
        "latching": settings.latching,
        "suppressed_by": _suppressed_by(alarm.hold),
        "shelved": _shelved(alarm.shelf),
        "out_of_service": _out_of_service(alarm.removal),
    }


def _suppressed_by(hold: Hold | None) -> Payload | None:
    return None if hold is None else {"why": hold.why.value, "under": hold.under or None}


def _shelved(shelf: Shelf | None) -> Payload | None:
    if shelf is None:
        return None
    return {
        "until": rfc3339(shelf.until_utc_s),
        "by": shelf.by,
        "reason": shelf.reason,
        "since": rfc3339(shelf.since_utc_s),
    }


def _out_of_service(removal: Removal | None) -> Payload | None:
    if removal is None:
        return None
    return {"by": removal.by, "reason": removal.reason, "since": rfc3339(removal.since_utc_s)}


def _behind(plant: PlantPlan, state: PlantState, name: str, tag: str) -> str | None:
    """What may be behind an active alarm as things look now; None where the evidence does not tell."""
    return cause_short(found) if (found := suspicions(plant, state, name, tag)) else None


def _condition(band: Band | None, sign: Sign | None) -> Payload:
    """What the alarm is about; a bad signal and an early warning have no set point."""
    if sign is not None:
        return _without_setpoint("early_warning", sign)
    if band is None:
        return _without_setpoint("bad_signal")
    return {
        "condition": "band",
        "early_warning": None,
        "setpoint": number(band.setpoint_inh2o),
        "deadband": number(band.deadband_inh2o),
        "unit": "inH2O",
        "side": band.side.value,
        "judged": band.judged.value,
    }


def _without_setpoint(condition: str, sign: Sign | None = None) -> Payload:
    named = {"condition": condition, "early_warning": None if sign is None else sign.value}
    return named | dict.fromkeys(("setpoint", "deadband", "unit", "side", "judged"))


def _judged(band: Band | None, state: CollectorState) -> float | None:
    """What the band judges now; none for a bad signal, and none while the DP is bad."""
    dp = state.readings.get(Role.DP)
    if band is None or dp is None or dp.quality is Quality.BAD:
        return None
    match band.judged:
        case Judged.DAMPED:
            return number(dp.damped)
        case Judged.RESIDUAL:
            return number(state.residual_inh2o)
        case Judged.AVERAGE:
            return number(state.average_inh2o)


def _urgency(settings: AlarmSettings, alarm: Alarm) -> tuple[object, ...]:
    """What sorts the most urgent first."""
    if alarm.state in ACTIVE:
        group = 0
    elif alarm.state in WAITING:
        group = 1
    elif alarm.state in HELD:
        group = 2 if alarm.stands else 3
    else:
        group = 4
    answered = alarm.state not in UNANSWERED
    return group, -settings.priority.rank, answered, -(alarm.since_utc_s or 0.0), settings.tag


def _stamp(utc_s: float | None) -> str | None:
    return None if utc_s is None else rfc3339(utc_s)
