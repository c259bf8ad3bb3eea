"""Prometheus: everything worth knowing as metrics, drawn anew for each scrape from one unchanging view.

A family that cannot be drawn is left out and counted; it never costs the others. Nothing carries a timestamp, so a
series that is no longer drawn goes stale at the next scrape.
"""

import logging
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial

from monitor.figures import AlarmLogFigures, JudgeFigures, LinkFigures, MqttFigures, PhoneFigures, StoreFigures
from monitor.judge.alarm import Alarm
from monitor.scan.settings import CollectorPlan, LinkAlarmPlan
from monitor.scan.state import CollectorState
from monitor.tell import exposition, series_daemon, series_performance, series_phone, series_places, series_plant
from monitor.tell.exposition import Family, Kind, Sample
from monitor.tell.heading import SiteHeading
from monitor.tell.plant_view import PlantView
from monitor.tell.series_daemon import DaemonView
from monitor.words import Instant, PointId

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class MetricsView:
    """All that is shown, as of one moment. Its mappings must not change while they are drawn.

    Attributes:
        states: by collector; one without a state yet shows its set points alone.
        last_good: when points that are bad now were last good, as ``Freshness`` knows it.
        link_plans, link_alarms: the alarms of the links, both by the link's name.
        alarms: how the alarm system is doing.
        phone: how the phone relay is doing; None where nobody is called.
    """

    site: SiteHeading
    version: str
    now: Instant
    plans: Mapping[str, CollectorPlan]
    states: Mapping[str, CollectorState]
    links: Mapping[str, LinkFigures]
    judge: JudgeFigures | None = None
    store: StoreFigures | None = None
    mqtt: MqttFigures | None = None
    last_good: Mapping[PointId, Instant] = field(default_factory=dict)
    link_plans: Mapping[str, LinkAlarmPlan] = field(default_factory=dict)
    link_alarms: Mapping[str, Alarm] = field(default_factory=dict)
    alarms: AlarmLogFigures | None = None
    phone: PhoneFigures | None = None


def render(view: MetricsView, accept: str | None = None) -> tuple[bytes, str]:
    """The metrics and their content type, in the form that the scraper's ``Accept`` header asks for."""
    # One family at a time: all samples of a thousand collectors at once would take megabytes.
    if exposition.wants_openmetrics(accept):
        return exposition.openmetrics(families(view)), exposition.OPENMETRICS
    return exposition.text(families(view)), exposition.TEXT


def families(view: MetricsView) -> Iterator[Family]:
    """Every family that has something to show, and last how many could not be drawn."""
    plant = PlantView(view.plans, view.states, view.last_good, view.now, view.link_plans, view.link_alarms)
    daemon = DaemonView(view.site, view.links, view.judge, view.store, view.mqtt, view.version, view.now)
    failed = 0
    draws: list[Callable[[], Family]] = [partial(draw, plant) for draw in series_plant.FAMILIES]
    draws += [partial(draw, plant) for draw in series_places.FAMILIES]
    draws += [partial(draw, daemon) for draw in series_daemon.FAMILIES]
    if view.alarms is not None:
        draws += [partial(draw, view.alarms) for draw in series_performance.FAMILIES]
    if view.phone is not None:
        draws += [partial(draw, view.phone) for draw in series_phone.FAMILIES]
    for draw in draws:
        try:
            family = draw()
        except Exception:
            failed += 1
            log.debug("metrics family cannot be drawn", exc_info=True)
            continue
        if family.samples:
            yield family
    text = "Families that could not be drawn in this scrape."
    yield Family("cakewatch_metrics_failed_families", Kind.GAUGE, text, [Sample({}, failed)])
