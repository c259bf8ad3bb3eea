"""Telling: the outlets of the site, and when each of them hears what.

States are offered as functions that build the message when its turn has come, so a slow broker costs nothing.
Alarm states and events go out only once the journal has the events that led to them.
"""

import asyncio
import contextlib
import logging
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import NamedTuple

from monitor import __version__
from monitor.clock import Clock
from monitor.daemon.annunciating import Annunciating
from monitor.daemon.core import Core
from monitor.daemon.offering import Offering
from monitor.daemon.paging import Looks, Paging
from monitor.daemon.phoning import PhoneLooks, Phoning
from monitor.daemon.tasks import Tasks
from monitor.daemon.web_keeping import SESSIONS_KEY, WebKeeping
from monitor.errors import PlantError
from monitor.figures import AlarmLogFigures, JudgeFigures, LinkFigures, MqttFigures, PhoneFigures, StoreFigures
from monitor.judge.calm import Watch
from monitor.remember.store import Store
from monitor.site.plan import SitePlan
from monitor.tell import control_socket, payloads_alarms
from monitor.tell.freshness import Freshness
from monitor.tell.heading import SiteHeading
from monitor.tell.health import HealthReport, judge_health
from monitor.tell.mqtt.outlet import OUTLET, MqttOutlet
from monitor.tell.phone.outlet import OUTLET as PHONE
from monitor.tell.prometheus import MetricsView, render
from monitor.tell.settings import HttpSettings, MqttSettings
from monitor.tell.web import Render, WebServer
from monitor.tell.web_commands import Submit
from monitor.words import LinkChange

log = logging.getLogger(__name__)

#: Who is told of every event, by the names of their cursors.
OUTLETS = (OUTLET, PHONE)


class Figures(NamedTuple):
    """Where the figures are asked for that are shown to others."""

    links: Callable[[], Mapping[str, LinkFigures]]
    judge: Callable[[], JudgeFigures]
    alarms: Callable[[], AlarmLogFigures]


class Telling:
    """Every outlet of one site."""

    def __init__(
        self,
        store: Store,
        clock: Clock,
        core: Core,
        tasks: Tasks,
        figures: Figures,
        submit: Submit,
        annunciating: Annunciating,
        put: Callable[[LinkChange], None],
    ) -> None:
        self._store = store
        self._clock = clock
        self._core = core
        self._tasks = tasks
        self._figures = figures
        self._submit = submit
        self._annunciating = annunciating
        self._heading = SiteHeading("")
        self._offering: Offering | None = None
        self._mqtt_follows: tuple[MqttSettings | None, SiteHeading] | None = None
        self._web: WebServer | None = None
        self._control: WebServer | None = None
        self._http_settings: HttpSettings | None = None
        self._freshness = Freshness()
        self._watched: dict[str, Watch] = {}
        self._keeping = WebKeeping(store, clock, core)
        looks = Looks(figures.links, self.health, self.mqtt_figures, self.phone_figures)
        self.paging = Paging(core, store, clock, looks)
        self.phoning = Phoning(
            store,
            clock,
            core,
            tasks,
            put,
            PhoneLooks(figures.links, self.health, self.mqtt_figures, self._pieces, self._keeping.link),
        )

    async def start(self, plan: SitePlan) -> None:
        """Open the outlets; PlantError where the HTTP address cannot be had."""
        self._heading = SiteHeading(plan.name, plan.inch_of_water, plan.pa_per_inh2o)
        self.paging.follow(plan, self._heading)
        self._keeping.follow(plan.time_zone)
        self.paging.start(self._tasks)
        await self._follow_http(plan.http)
        await self._follow_mqtt(plan.mqtt)
        await self.phoning.follow(plan)
        self._tell_everything()

    async def open_control(self, folder: Path) -> str:
        """Open the way in for the command line, in the store's folder.

        Returns:
            A sentence where it cannot be had: watching matters more, so the daemon goes on without it.
        """
        control = self._web_server(None, folder / control_socket.NAME)
        try:
            await control.start()
        except PlantError as error:
            return str(error)
        self._control = control
        return ""

    async def follow(self, plan: SitePlan) -> str:
        """Tell what this plan wants told, where it wants it told; unchanged outlets stay as they are.

        Returns:
            A sentence where the HTTP address cannot be had and the old one stays; else empty.
        """
        self._heading = SiteHeading(plan.name, plan.inch_of_water, plan.pa_per_inh2o)
        self.paging.follow(plan, self._heading)
        self._keeping.follow(plan.time_zone)
        trouble = ""
        before = self._http_settings
        try:
            await self._follow_http(plan.http)
        except PlantError as error:
            trouble = str(error)
            with contextlib.suppress(PlantError):
                await self._follow_http(before)
        await self._follow_mqtt(plan.mqtt)
        await self.phoning.follow(plan)
        self._freshness.keep(plan.collectors)
        self._tell_everything()
        return trouble

    def take_down(self, tags: Mapping[str, Iterable[str]], link_tags: Mapping[str, Iterable[str]]) -> None:
        """Remove what an earlier life of the daemon told of alarms that are no longer watched."""
        if self._offering is not None:
            self._offering.take_down(tags, link_tags)

    async def stop(self) -> None:
        """Close the outlets; what is not confirmed by now is told after the next start."""
        await asyncio.gather(
            self._tasks.end("mqtt", within_s=1.0), self._tasks.end("page trends"), self.phoning.stop()
        )
        # An open page would hold up the end of the server.
        self.paging.close()
        for server in (self._web, self._control):
            if server is not None:
                await server.stop()

    def changed(self, names: Iterable[str]) -> None:
        """These collectors have something new."""
        names = tuple(names)
        self.paging.changed(names)
        for name in names:
            if (state := self._core.told_of(name)) is None:
                continue
            self._freshness.note(name, state)
            if self._offering is not None:
                self._offering.state(name)
                self._offering.curve(name)
            if state.watch is not self._watched.get(name):
                self._watched[name] = state.watch
                self._tell_alarms(name)

    def links_changed(self) -> None:
        """The alarm of some link has something new."""
        self.paging.links_changed()
        for name, state in self._core.told_links().items():
            settings = self._core.plan.links[name].alarm
            self._annunciating.see(settings.tag, state.alarm.state, settings.priority)
            if self._offering is not None:
                self._offering.link(name)

    def committed(self, seq: int, freed: Iterable[str]) -> None:
        """The journal has everything up to ``seq``; these collectors and links may be told as they are."""
        self.paging.committed(seq)
        self.phoning.committed(seq)
        if self._offering is None:
            # Nobody is to be told: what was waiting for a broker that the site file lost waits no longer.
            self._store.confirm(OUTLET, seq)
        else:
            self._offering.outlet.wake(seq)
        del freed  # they were told as changed already

    def forget(self, tags: Iterable[str]) -> None:
        """These alarms are no more: the horn has nothing to say about them."""
        self._annunciating.forget(tags)

    def http_address(self) -> tuple[str, int] | None:
        """Where /metrics and /health are served."""
        return None if self._web is None else self._web.address

    def mqtt_figures(self) -> MqttFigures | None:
        """How the connection to the broker is."""
        return None if self._offering is None else self._offering.outlet.figures()

    def phone_figures(self) -> PhoneFigures | None:
        """How the phone relay is doing."""
        return self.phoning.figures()

    def health(self) -> HealthReport:
        """Whether everything that must move is moving."""
        return judge_health(self._figures.links(), self._figures.judge(), self._store.figures(), self._clock.now())

    async def _follow_http(self, settings: HttpSettings | None) -> None:
        if settings == self._http_settings:
            return
        if self._web is not None:
            await self._web.stop()
            self._web = None
        self._http_settings = None
        if settings is not None:
            web = self._web_server(settings, None)
            await web.start()
            self._web = web
        self._http_settings = settings

    def _web_server(self, settings: HttpSettings | None, control: Path | None) -> WebServer:
        return WebServer(
            settings,
            metrics=self._metrics,
            health=self.health,
            alarms=self._alarms,
            submit=self._submit,
            control=control,
            clock=self._clock,
            addresses=self.paging.addresses(),
            may=self._keeping.may,
            sessions=self._keeping.text(SESSIONS_KEY) if settings is not None else "",
            keep_sessions=self._keeping.keeper(SESSIONS_KEY) if settings is not None else None,
            acks=self._keeping.acks(settings) if settings is not None else None,
        )

    async def _follow_mqtt(self, settings: MqttSettings | None) -> None:
        # Every message bears the site's name and its inch, so another heading is another outlet.
        if (settings, self._heading) == self._mqtt_follows:
            return
        await self._tasks.end("mqtt")
        self._offering, self._mqtt_follows = None, (settings, self._heading)
        if settings is not None:
            outlet = MqttOutlet(
                settings,
                self._heading,
                self._store,
                self._clock,
                instance_id=self._store.instance_id,
                submit=self._submit,
            )
            self._offering = Offering(outlet, outlet.topics, self._heading, self._core, self._clock)
            self._tasks.start("mqtt", outlet.run())

    def _tell_everything(self) -> None:
        self._watched = {}
        if self._offering is not None:
            self._offering.everything()
        self.changed(self._core.plans)
        self.links_changed()

    def _tell_alarms(self, name: str) -> None:
        plan = self._core.plans[name]
        alarms = self._watched[name].alarms
        for settings in plan.alarms:
            self._annunciating.see(settings.tag, alarms[settings.tag].state, settings.priority)
        if self._offering is not None:
            self._offering.alarms(name)

    def _alarms(self) -> Iterator[payloads_alarms.Payload]:
        """This moment, held still; the list is made in another thread, when it is gone through."""
        links = {name: one.alarm for name, one in self._core.told_links().items()}
        told = dict(self._core.told())
        now = self._clock.now()
        return _one_by_one(partial(payloads_alarms.alarm_list, self._heading, self._core.plan, told, links, now))

    def _pieces(self, name: str) -> tuple[list[float | None], list[float | None]]:
        """The lowest and the highest DP of a collector's last hours, in pieces, the oldest first."""
        told = self.paging.page.trends.payload([name], self._clock.now().utc_s)["collectors"].get(name)
        return ([], []) if told is None else (told["low"], told["high"])

    def _store_figures(self) -> StoreFigures:
        figures = self._store.figures()
        return figures if self._offering is not None else replace(figures, outlets={})

    def _metrics(self) -> Render:
        """This moment, held still, and ready to be written in another thread while the loop moves on."""
        view = MetricsView(
            site=self._heading,
            plans=self._core.plans,
            states=dict(self._core.told()),
            links=self._figures.links(),
            store=self._store_figures(),
            mqtt=self.mqtt_figures(),
            judge=self._figures.judge(),
            last_good=self._freshness.last_good(),
            version=__version__,
            now=self._clock.now(),
            alarms=self._figures.alarms(),
            phone=self.phone_figures(),
            link_plans=self._core.plan.links,
            link_alarms={name: one.alarm for name, one in self._core.told_links().items()},
        )
        return partial(render, view)


def _one_by_one(make: Callable[[], Iterable[payloads_alarms.Payload]]) -> Iterator[payloads_alarms.Payload]:
    yield from make()
