"""Telling: the outlets of the site, and when each of them hears what.

States are offered as functions that build the message when its turn has come, so a slow broker costs nothing.
Alarm states and events go out only once the journal has the events that led to them.
"""

import contextlib
import logging
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial

from monitor import __version__
from monitor.clock import Clock
from monitor.daemon.core import Core
from monitor.daemon.tasks import Tasks
from monitor.errors import PlantError
from monitor.figures import JudgeFigures, LinkFigures, MqttFigures, StoreFigures
from monitor.judge.lifecycle import Alarm
from monitor.remember.store import Store
from monitor.site.plan import SitePlan
from monitor.tell import payloads
from monitor.tell.freshness import Freshness
from monitor.tell.heading import SiteHeading
from monitor.tell.health import HealthReport, judge_health
from monitor.tell.mqtt.outlet import OUTLET, MqttOutlet
from monitor.tell.prometheus import MetricsView, render
from monitor.tell.settings import HttpSettings, MqttSettings
from monitor.tell.topics import Topics
from monitor.tell.web import Render, WebServer

log = logging.getLogger(__name__)


class Telling:
    """Every outlet of one site."""

    def __init__(
        self,
        store: Store,
        clock: Clock,
        core: Core,
        tasks: Tasks,
        link_figures: Callable[[], Mapping[str, LinkFigures]],
        judge_figures: Callable[[], JudgeFigures],
    ) -> None:
        self._store = store
        self._clock = clock
        self._core = core
        self._tasks = tasks
        self._link_figures = link_figures
        self._judge_figures = judge_figures
        self._heading = SiteHeading("")
        self._topics = Topics("cakewatch")
        self._mqtt: MqttOutlet | None = None
        self._mqtt_follows: tuple[MqttSettings | None, SiteHeading] | None = None
        self._web: WebServer | None = None
        self._http_settings: HttpSettings | None = None
        self._freshness = Freshness()
        self._offered: dict[str, Alarm | None] = {}

    async def start(self, plan: SitePlan) -> None:
        """Open the outlets; PlantError where the HTTP address cannot be had."""
        self._heading = SiteHeading(plan.name, plan.inch_of_water, plan.pa_per_inh2o)
        await self._follow_http(plan.http)
        await self._follow_mqtt(plan.mqtt)
        self._offer_everything()

    async def follow(self, plan: SitePlan) -> str:
        """Tell what this plan wants told, where it wants it told; unchanged outlets stay as they are.

        Returns:
            A sentence where the HTTP address cannot be had and the old one stays; else empty.
        """
        self._heading = SiteHeading(plan.name, plan.inch_of_water, plan.pa_per_inh2o)
        trouble = ""
        before = self._http_settings
        try:
            await self._follow_http(plan.http)
        except PlantError as error:
            trouble = str(error)
            with contextlib.suppress(PlantError):
                await self._follow_http(before)
        await self._follow_mqtt(plan.mqtt)
        self._freshness.keep(plan.collectors)
        self._offer_everything()
        return trouble

    def take_down(self, tags: Mapping[str, Iterable[str]]) -> None:
        """Remove what an earlier life of the daemon told of alarms that are no longer watched, by collector."""
        if self._mqtt is None:
            return
        for name, gone in tags.items():
            for tag in gone:
                self._mqtt.forget(self._topics.alarm(name, tag))
            if name not in self._core.plans:
                self._mqtt.forget(self._topics.state(name))

    async def stop(self) -> None:
        """Close the outlets; what is not confirmed by now is told after the next start."""
        await self._tasks.end("mqtt", within_s=1.0)
        if self._web is not None:
            await self._web.stop()

    def changed(self, names: Iterable[str]) -> None:
        """These collectors have something new."""
        for name in names:
            if (state := self._core.told_of(name)) is not None:
                self._freshness.note(name, state)
            if self._mqtt is None:
                continue
            self._mqtt.offer_state(self._topics.state(name), partial(self._state, name))

    def committed(self, seq: int, freed: Iterable[str]) -> None:
        """The journal has everything up to ``seq``; these collectors may be told as they are."""
        if self._mqtt is None:
            # Nobody is to be told: what was waiting for a broker that the site file lost waits no longer.
            self._store.confirm(OUTLET, seq)
            return
        for name in freed:
            self._offer_alarms(name)
        self._mqtt.wake(seq)

    def http_address(self) -> tuple[str, int] | None:
        """Where /metrics and /health are served."""
        return None if self._web is None else self._web.address

    def mqtt_figures(self) -> MqttFigures | None:
        """How the connection to the broker is."""
        return None if self._mqtt is None else self._mqtt.figures()

    def health(self) -> HealthReport:
        """Whether everything that must move is moving."""
        return judge_health(self._link_figures(), self._judge_figures(), self._store.figures(), self._clock.now())

    async def _follow_http(self, settings: HttpSettings | None) -> None:
        if settings == self._http_settings:
            return
        if self._web is not None:
            await self._web.stop()
            self._web = None
        self._http_settings = None
        if settings is not None:
            web = WebServer(settings, metrics=self._metrics, health=self.health)
            await web.start()
            self._web = web
        self._http_settings = settings

    async def _follow_mqtt(self, settings: MqttSettings | None) -> None:
        # Every message bears the site's name and its inch, so another heading is another outlet.
        if (settings, self._heading) == self._mqtt_follows:
            return
        await self._tasks.end("mqtt")
        self._mqtt, self._mqtt_follows, self._offered = None, (settings, self._heading), {}
        if settings is not None:
            self._topics = Topics(settings.base_topic)
            self._mqtt = MqttOutlet(
                settings, self._heading, self._store, self._clock, instance_id=self._store.instance_id
            )
            self._tasks.start("mqtt", self._mqtt.run())

    def _offer_everything(self) -> None:
        """Offer every collector and alarm of the plan; take down the topics of those that are gone."""
        if self._mqtt is None:
            return
        wanted = {self._topics.state(name) for name in self._core.plans}
        for name, state in self._core.told().items():
            wanted |= {self._topics.alarm(name, tag) for tag in state.watch.alarms}
        for topic in [topic for topic in self._offered if topic not in wanted]:
            self._mqtt.forget(topic)
            del self._offered[topic]
        self.changed(self._core.plans)
        for name in self._core.plans:
            self._offered.setdefault(self._topics.state(name), None)
            self._offer_alarms(name, anew=True)

    def _offer_alarms(self, name: str, *, anew: bool = False) -> None:
        """Offer those alarms of one collector whose state a subscriber has not been told yet."""
        state = self._core.told_of(name)
        if state is None or self._mqtt is None:
            return
        for tag, alarm in state.watch.alarms.items():
            topic = self._topics.alarm(name, tag)
            before = self._offered.get(topic)
            if anew or before is None or _told(before) != _told(alarm):
                self._offered[topic] = alarm
                self._mqtt.offer_state(topic, partial(self._alarm, name, tag), urgent=True)

    def _state(self, name: str) -> bytes:
        state, plan = self._core.told_of(name), self._core.plans.get(name)
        if state is None or plan is None:
            return b""  # taken out of the site file: an empty retained message removes the topic
        return payloads.encode(payloads.collector_state(self._heading, plan, state, self._clock.now()))

    def _alarm(self, name: str, tag: str) -> bytes:
        state, plan = self._core.told_of(name), self._core.plans.get(name)
        if state is None or plan is None or tag not in state.watch.alarms:
            return b""
        return payloads.encode(payloads.alarm_state(self._heading, plan, state, tag, self._clock.now()))

    def _store_figures(self) -> StoreFigures:
        figures = self._store.figures()
        return figures if self._mqtt is not None else replace(figures, outlets={})

    def _metrics(self) -> Render:
        """This moment, held still, and ready to be written in another thread while the loop moves on."""
        view = MetricsView(
            site=self._heading,
            plans=self._core.plans,
            states=dict(self._core.told()),
            links=self._link_figures(),
            store=self._store_figures(),
            mqtt=self.mqtt_figures(),
            judge=self._judge_figures(),
            last_good=self._freshness.last_good(),
            version=__version__,
            now=self._clock.now(),
        )
        return partial(render, view)


def _told(alarm: Alarm) -> tuple[object, ...]:
    """What a subscriber sees of an alarm; the running clocks inside it are not told."""
    return alarm.state, alarm.seen, alarm.since_utc_s, alarm.raised_utc_s
