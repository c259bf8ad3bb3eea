"""Payloads: the JSON that machines are told, one function for each kind of message.

``config/mqtt.schema.json`` describes every field. A bad reading has ``value`` null, and ``quality`` and ``reason``
say why; residual and average are null while the DP is bad, because a figure nobody can see grow old is the last
value passed off as new.
"""

import json
import math

from monitor.scan.settings import CollectorPlan, PointPlan
from monitor.scan.state import CollectorState
from monitor.tell.heading import SiteHeading
from monitor.tell.notation import number, rfc3339
from monitor.tell.payloads_alarms import Payload, alarm_list, alarm_state, alarms_in_sum, link_alarm_state
from monitor.tell.payloads_curve import cause_text, collector_curve, suspicions
from monitor.tell.wording import sentence
from monitor.words import UNIT_OF_ROLE, Event, Instant, Quality, Reading, Role

__all__ = [
    "Payload",
    "alarm_list",
    "alarm_state",
    "availability",
    "collector_curve",
    "collector_state",
    "encode",
    "event",
    "link_alarm_state",
]

# Made once: json.dumps would make a new one for every message.
_JSON = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def encode(payload: Payload) -> bytes:
    """The payload as compact JSON in UTF-8."""
    return _JSON.encode(payload).encode("utf-8", "replace")


def availability(
    site: SiteHeading, *, online: bool, version: str, at_utc_s: float | None, why: str = ""
) -> Payload:
    """Whether the daemon is there.

    Args:
        site: the site.
        online: whether it is there.
        version: ours.
        at_utc_s: when it came or went; None in the last will, whose moment only the broker knows.
        why: why it is not there: ``stopped`` or ``connection lost``; empty while it is.
    """
    return {
        "online": online,
        "site": site.name,
        "version": version,
        "at": None if at_utc_s is None else rfc3339(at_utc_s),
        "why": why or None,
    }


def collector_state(site: SiteHeading, plan: CollectorPlan, state: CollectorState, at: Instant) -> Payload:
    """Every point of one collector and its alarms in sum, as of ``at``."""
    return {
        "site": site.name,
        "collector": plan.name,
        "at": rfc3339(at.utc_s),
        "inch_of_water": site.inch_of_water,
        "pa_per_inh2o": number(site.pa_per_inh2o),
        "points": {
            role.value: _point(role, plan.points[role], reading, state)
            for role, reading in state.readings.items()
            if role in plan.points
        },
        "alarms": alarms_in_sum(plan, state.watch.alarms),
    }


def event(site: SiteHeading, happening: Event) -> Payload:
    """One event of the journal; ``happened_at`` is when it happened, however late it is told."""
    return {
        "event_id": happening.event_id,
        "seq": happening.seq,
        "site": site.name,
        "kind": happening.kind.value,
        "happened": happening.happened,
        "happened_at": rfc3339(happening.at_utc_s),
        "text": sentence(happening),
        "collector": happening.collector,
        "tag": happening.tag,
        "link": happening.link,
        "priority": happening.priority,
        "state_before": happening.state_before,
        "state": happening.state,
        "cause": happening.cause,
        "by": happening.by,
        "occurrence": happening.occurrence,
        "value": number(happening.value),
        "setpoint": number(happening.setpoint),
        "unit": happening.unit,
        "seen": happening.seen,
        "facts": {name: _fact(fact) for name, fact in happening.facts.items()},
        "suspicions": suspicions(happening.suspicions),
        "cause_text": cause_text(happening.suspicions),
    }


def _point(role: Role, plan: PointPlan, reading: Reading, state: CollectorState) -> Payload:
    is_bad = reading.quality is Quality.BAD
    value = None if is_bad else number(reading.value)
    analog = role in UNIT_OF_ROLE
    point: Payload = {
        "tag": plan.tag,
        "value": value if analog or value is None else value >= 0.5,
        "unit": UNIT_OF_ROLE.get(role),
        "quality": reading.quality.value,
        "reason": reading.reason.value,
        "detail": reading.detail,
        "at": rfc3339(reading.at.utc_s),
        "raw": number(reading.raw),
        "current_ma": number(reading.current_ma),
    }
    if role is Role.DP:
        point["damped"] = None if is_bad else number(reading.damped)
        point["residual"] = None if is_bad else number(state.residual_inh2o)
        point["average"] = None if is_bad else number(state.average_inh2o)
    return point


def _fact(fact: str | float | bool | None) -> str | float | bool | None:
    """The fact as JSON can carry it."""
    return None if isinstance(fact, float) and not math.isfinite(fact) else fact
