"""Details: everything the page shows of one collector but its chart."""

from collections.abc import Sequence
from typing import Any

from monitor.interpret.air.figures import air_figures
from monitor.scan.settings import CollectorPlan
from monitor.tell.page import whole
from monitor.tell.page.air_sentences import air_sentences
from monitor.tell.page.checks import checks
from monitor.tell.page.happenings import happening
from monitor.tell.page.rounding import rounded
from monitor.tell.page.whole import Look
from monitor.tell.payloads_alarms import alarm_list
from monitor.tell.payloads_curve import collector_curve
from monitor.tell.wording_filters import SIGN
from monitor.tell.wording_phrases import one_line
from monitor.words import UNIT_OF_ROLE, Event, Quality, Reading, Role

Payload = dict[str, Any]

#: Events of the collector that are shown with it.
MOST_EVENTS = 30


def details(look: Look, name: str, events: Sequence[Event]) -> Payload:
    """The collector of that name, which must be in the picture; ``events`` newest first."""
    plan, state = look.plan.collectors[name], look.states[name]
    heading = look.site.heading
    air = None if plan.curve is None else air_sentences(air_figures(plan.curve, state.curve.air))
    return {
        "card": whole.cards(look, [name])[0],
        "points": [_point(plan, role, reading) for role, reading in state.readings.items() if role in plan.points],
        "curve": None if plan.curve is None else collector_curve(heading, plan, state, look.now),
        "alarms": alarm_list(heading, look.plan, look.states, {}, look.now, of=name),
        "checks": checks(*look.known(), name),
        "signs": [{"sign": sign.value, "says": SIGN[sign]} for sign, _ in state.curve.signs],
        "air": {"sentences": air} if air else None,
        "events": [happening(event) for event in events],
    }


def _point(plan: CollectorPlan, role: Role, reading: Reading) -> Payload:
    value = None if reading.quality is Quality.BAD else rounded(reading.value)
    return {
        "role": role.value,
        "tag": plan.points[role].tag,
        "value": value if role in UNIT_OF_ROLE or value is None else value >= 0.5,
        "unit": UNIT_OF_ROLE.get(role),
        "quality": reading.quality.value,
        "reason": reading.reason.value,
        "detail": one_line(reading.detail, 200),
        "at_utc_s": rounded(reading.at.utc_s, 2),
    }


def has(look: Look, name: str) -> bool:
    """Whether there is anything to show of a collector of that name."""
    return name in look.plan.collectors and name in look.states
