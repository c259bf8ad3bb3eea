"""Whole: the plant as one body, and the parts of it that change by themselves: links, outlets, alarms."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from monitor.figures import LinkFigures
from monitor.judge.table import ACTIVE
from monitor.scan.settings import PlantPlan
from monitor.scan.state import CollectorState, LinkState, PlantState
from monitor.scan.suspecting import suspicions
from monitor.tell.page.cards import Beside, card
from monitor.tell.page.rounding import rounded
from monitor.tell.page.source import Outlets, PageSite
from monitor.tell.page.standing import alarms_of
from monitor.tell.page.trends import COUNT, STEP_S
from monitor.tell.payloads_alarms import alarm_list, link_alarm_state
from monitor.tell.wording_causes import cause_short
from monitor.tell.wording_phrases import one_line
from monitor.words import AlarmState, Instant

Payload = dict[str, Any]

#: Seconds between two beats of a stream.
BEAT_S = 2.0


class Look(NamedTuple):
    """The plant at one moment, held still.

    Attributes:
        last_good: when the DP of each collector was last good, Unix seconds, by its name.
    """

    site: PageSite
    plan: PlantPlan
    states: Mapping[str, CollectorState]
    links: Mapping[str, LinkState]
    link_figures: Mapping[str, LinkFigures]
    outlets: Outlets
    latest_seq: int
    last_good: Mapping[str, float]
    now: Instant

    def known(self) -> tuple[PlantPlan, PlantState]:
        """The collectors that have a state, for whoever looks at neighbours too."""
        plans = {name: plan for name, plan in self.plan.collectors.items() if name in self.states}
        return PlantPlan(collectors=plans), PlantState({name: self.states[name] for name in plans})


def plant(look: Look) -> Payload:
    """Everything at once, in the order of the site file."""
    heading = look.site.heading
    return {
        "site": {
            "name": heading.name,
            "inch_of_water": heading.inch_of_water,
            "time_zone": look.site.time_zone,
            "version": look.site.version,
        },
        "at_utc_s": rounded(look.now.utc_s),
        "beat_s": BEAT_S,
        "trend": {"step_s": STEP_S, "count": COUNT},
        "latest_seq": look.latest_seq,
        "links": links(look),
        "outlets": outlets(look.outlets),
        "collectors": cards(look, look.plan.collectors),
        "alarms": alarms(look),
    }


def cards(look: Look, names: Mapping[str, object] | list[str]) -> list[Payload]:
    """The cards of these collectors, in the order given; one without a state is left out."""
    known = look.known()
    return [
        card(look.plan.collectors[name], look.states[name], _beside(look, known, name))
        for name in names
        if name in look.states and name in look.plan.collectors
    ]


def alarms(look: Look) -> list[Payload]:
    """Every alarm that is not plain normal, the most urgent first."""
    links_alarms = {name: state.alarm for name, state in look.links.items()}
    not_normal = frozenset(AlarmState) - {AlarmState.NORMAL}
    return alarm_list(look.site.heading, look.plan, look.states, links_alarms, look.now, only=not_normal)


def links(look: Look) -> list[Payload]:
    """Every link, with what it last complained of while it is not there."""
    return [
        {
            "name": name,
            "connected": figures.connected,
            "error": "" if figures.connected else one_line(figures.last_error, 200),
            "alarm": _link_alarm(look, name),
        }
        for name, figures in look.link_figures.items()
    ]


def outlets(found: Outlets) -> Payload:
    """How the broker, the phones and the journal are."""
    store, mqtt, phone = found
    return {
        "mqtt": None if mqtt is None else {"ok": mqtt.connected, "error": one_line(mqtt.last_error, 200)},
        "phone": None
        if phone is None
        else {
            "ok": not phone.unreached and not phone.ping_error,
            "error": one_line(phone.unreached or phone.ping_error, 200),
            "waiting": phone.waiting,
        },
        "journal": {"ok": store.healthy, "error": "" if store.healthy else one_line(store.last_error, 200)},
    }


def _beside(look: Look, known: tuple[PlantPlan, PlantState], name: str) -> Beside:
    plan, state = look.plan.collectors[name], look.states[name]
    active = [one for one in alarms_of(plan, state) if one.alarm.state in ACTIVE]
    likely = None
    if active:
        worst = max(active, key=lambda one: one.rank)
        found = suspicions(*known, name, worst.settings.tag)
        likely = cause_short(found) if found else None
    return Beside(look.last_good.get(name), likely)


def _link_alarm(look: Look, name: str) -> Payload | None:
    plan, state = look.plan.links.get(name), look.links.get(name)
    if plan is None or state is None:
        return None
    return link_alarm_state(look.site.heading, plan, state.alarm, look.now)
