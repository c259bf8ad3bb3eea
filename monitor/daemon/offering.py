"""Offering: the retained states of one broker: which topics there are, and what of them is news.

Every message is offered as a function that builds it when its turn has come, so a slow broker costs nothing.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial

from monitor.clock import Clock
from monitor.daemon.core import Core
from monitor.judge.alarm import Alarm
from monitor.tell import payloads, payloads_alarms, payloads_curve
from monitor.tell.heading import SiteHeading
from monitor.tell.mqtt.outlet import MqttOutlet
from monitor.tell.topics import Topics


class Offering:
    """What one broker is offered.

    Args:
        outlet: the broker.
        topics: where everything goes.
        site: what every message is headed with.
        core: where the states are.
        clock: stamps the messages.
    """

    def __init__(self, outlet: MqttOutlet, topics: Topics, site: SiteHeading, core: Core, clock: Clock) -> None:
        self.outlet = outlet
        self._topics = topics
        self._site = site
        self._core = core
        self._clock = clock
        self._offered: dict[str, Alarm | None] = {}
        self._curves: dict[str, tuple[object, ...]] = {}

    def everything(self) -> None:
        """Offer every collector and alarm of the plan; take down the topics of those that are gone."""
        wanted = set(self._wanted())
        for topic in [topic for topic in self._offered if topic not in wanted]:
            self.outlet.forget(topic)
            del self._offered[topic]
        for name in self._core.plans:
            self._offered.setdefault(self._topics.state(name), None)
            self.state(name)
            self.curve(name, anew=True)
            self.alarms(name, anew=True)
        for name in self._core.plan.links:
            self.link(name, anew=True)

    def state(self, name: str) -> None:
        """Offer the readings of one collector."""
        self.outlet.offer_state(self._topics.state(name), partial(self._state, name))

    def curve(self, name: str, *, anew: bool = False) -> None:
        """Offer what is read from the curve of one collector, if there is news in it."""
        state, plan = self._core.told_of(name), self._core.plans.get(name)
        if state is None or plan is None or plan.curve is None:
            return
        told = payloads_curve.told_of(state.curve)
        if anew or self._curves.get(name) != told:
            self._curves[name] = told
            self._offered.setdefault(self._topics.curve(name), None)
            self.outlet.offer_state(self._topics.curve(name), partial(self._curve, name))

    def alarms(self, name: str, *, anew: bool = False) -> None:
        """Offer those alarms of one collector whose state a subscriber has not been told yet."""
        state = self._core.told_of(name)
        for tag, alarm in state.watch.alarms.items() if state else ():
            self._offer(self._topics.alarm(name, tag), alarm, partial(self._alarm, name, tag), anew=anew)

    def link(self, name: str, *, anew: bool = False) -> None:
        """Offer the alarm of one link, if a subscriber has not been told its state yet."""
        plan, state = self._core.plan.links.get(name), self._core.told_links().get(name)
        if plan is not None and state is not None:
            topic = self._topics.link_alarm(name, plan.alarm.tag)
            self._offer(topic, state.alarm, partial(self._link_alarm, name), anew=anew)

    def take_down(self, tags: Mapping[str, Iterable[str]], link_tags: Mapping[str, Iterable[str]]) -> None:
        """Remove what an earlier life of the daemon told of alarms that are no longer watched."""
        for name, gone in tags.items():
            for tag in gone:
                self.outlet.forget(self._topics.alarm(name, tag))
            if name not in self._core.plans:
                self.outlet.forget(self._topics.state(name))
                self.outlet.forget(self._topics.curve(name))
        for name, gone in link_tags.items():
            for tag in gone:
                self.outlet.forget(self._topics.link_alarm(name, tag))

    def _offer(self, topic: str, alarm: Alarm, content: Callable[[], bytes], *, anew: bool) -> None:
        before = self._offered.get(topic)
        if anew or before is None or _told(before) != _told(alarm):
            self._offered[topic] = alarm
            self.outlet.offer_state(topic, content, urgent=True)

    def _wanted(self) -> Iterator[str]:
        for name in self._core.plans:
            yield self._topics.state(name)
            yield self._topics.curve(name)
        for name, state in self._core.told().items():
            yield from (self._topics.alarm(name, tag) for tag in state.watch.alarms)
        for name, plan in self._core.plan.links.items():
            yield self._topics.link_alarm(name, plan.alarm.tag)

    def _state(self, name: str) -> bytes:
        state, plan = self._core.told_of(name), self._core.plans.get(name)
        if state is None or plan is None:
            return b""  # taken out of the site file: an empty retained message removes the topic
        return payloads.encode(payloads.collector_state(self._site, plan, state, self._clock.now()))

    def _curve(self, name: str) -> bytes:
        state, plan = self._core.told_of(name), self._core.plans.get(name)
        if state is None or plan is None:
            return b""
        return payloads.encode(payloads_curve.collector_curve(self._site, plan, state, self._clock.now()))

    def _alarm(self, name: str, tag: str) -> bytes:
        state, plan = self._core.told_of(name), self._core.plans.get(name)
        if state is None or plan is None or tag not in state.watch.alarms:
            return b""
        return payloads.encode(payloads_alarms.alarm_state(self._site, plan, state, tag, self._clock.now()))

    def _link_alarm(self, name: str) -> bytes:
        plan, state = self._core.plan.links.get(name), self._core.told_links().get(name)
        if plan is None or state is None:
            return b""
        return payloads.encode(payloads_alarms.link_alarm_state(self._site, plan, state.alarm, self._clock.now()))


def _told(alarm: Alarm) -> tuple[object, ...]:
    """What a subscriber sees of an alarm; the running clocks inside it are not told."""
    return (
        alarm.state,
        alarm.seen,
        alarm.since_utc_s,
        alarm.raised_utc_s,
        alarm.stands,
        alarm.hold,
        alarm.shelf,
        alarm.removal,
    )
