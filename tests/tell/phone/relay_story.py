"""A story of the relay: events, time and gateways of a plant that does not exist, told line by line."""

from itertools import count

from monitor.tell.phone import relay
from monitor.tell.phone.message import MessageKind, Sent
from monitor.tell.phone.settings import Channel, Person, PhoneSettings, Route, Step
from monitor.words import AlarmState, Cause, Event, EventKind, Instant, Priority

#: Wednesday 14 January 2026, 12:00 UTC.
NOON_UTC_S = 1768392000.0

_STATE = {
    "raised": AlarmState.UNACKNOWLEDGED,
    "released": AlarmState.UNACKNOWLEDGED,
    "returned": AlarmState.RETURNED_UNACKNOWLEDGED,
    "latched": AlarmState.LATCHED_UNACKNOWLEDGED,
    "acknowledged": AlarmState.ACKNOWLEDGED,
    "cleared": AlarmState.NORMAL,
    "removed": AlarmState.NORMAL,
    "shelved": AlarmState.SHELVED,
    "suppressed": AlarmState.SUPPRESSED_BY_DESIGN,
    "taken_out_of_service": AlarmState.OUT_OF_SERVICE,
}


def person(name, *channels, **more):
    return Person(
        name=name, channels=tuple(Channel(name=one, url=f"json://{one}") for one in channels or ("push",)), **more
    )


def people(*them):
    return {one.name: one for one in them}


def step(after_s, *names, rotas=()):
    return Step(after_s=after_s, people=names, rotas=rotas)


def settings(*them, steps=None, route=None, **more):
    """Whoever is given is called, all in one step, by a route for everything."""
    them = them or (person("anna"),)
    steps = steps or (step(0, *[one.name for one in them]),)
    routes = more.pop("routes", (Route(**{"name": "all", "steps": steps, **(route or {})}),))
    more.setdefault("areas", {"DC-101": "mill", "DC-102": "mill", "DC-201": "yard"})
    more.setdefault("link_collectors", {"L1": frozenset({"DC-101", "DC-102"}), "L2": frozenset({"DC-201"})})
    return PhoneSettings(people=people(*them), routes=routes, **more)


class Story:
    """Time goes on from ``at``; every message that is offered is settled by ``gateway`` after ``took_s``.

    Attributes:
        offered: (second, message) of every attempt.
        got: (second, message) of every message that was delivered.
    """

    def __init__(self, own=None, utc_s=NOON_UTC_S):
        self.settings = own or settings()
        self.state = relay.RelayState()
        self.now_s, self.utc_s = 0.0, utc_s
        self.dead = set()
        self.took_s = 0.5
        self.offered, self.got, self.events = [], [], []
        self.on_way = []
        self._seq = count(1)
        self.taken = []
        self.gateway = self._reach

    def _reach(self, message, now_s):
        dead = (message.person, message.channel) in self.dead
        return Sent(not dead, self.took_s, "down" if dead else "")

    @property
    def now(self):
        return Instant(self.now_s, self.utc_s + self.now_s)

    def event(self, happened, tag, collector="DC-101", priority=Priority.HIGH, link=None, **more):
        seq = next(self._seq)
        more.setdefault("state", _STATE.get(happened))
        return Event(
            kind=more.pop("kind", EventKind.ALARM),
            happened=happened,
            at_utc_s=self.now.utc_s,
            text=f"{collector}: {tag} {happened}",
            collector=None if link else collector,
            link=link,
            tag=tag,
            priority=priority,
            seq=seq,
            event_id=f"r-{seq}",
            **more,
        )

    def take(self, event):
        self.taken.append(event)
        self.state = relay.take(self.settings, self.state, event, self.now)
        self._look()
        return event

    def raised(self, tag="PDAH-101", collector="DC-101", priority=Priority.HIGH, **more):
        return self.take(self.event("raised", tag, collector, priority, **more)).event_id

    def returned(self, tag="PDAH-101", **more):
        self.take(self.event("returned", tag, cause=Cause.PROCESS, **more))

    def acknowledged(self, tag="PDAH-101", by="anna"):
        self.take(self.event("acknowledged", tag, by=by, cause=Cause.PERSON))

    def happened(self, what, tag="PDAH-101", **more):
        self.take(self.event(what, tag, **more))

    def until(self, second):
        """Let time go on, settling and looking whenever something is due."""
        while (next_s := min(self._next_s(), second)) <= second:
            self.now_s = max(self.now_s, next_s)
            for entry in [one for one in self.on_way if one[0] <= self.now_s]:
                self.on_way.remove(entry)
                self._settle(*entry[1:])
            self._look()
            if next_s >= second and self._next_s() > second:
                return self
        self.now_s = second
        return self

    def after(self, seconds):
        return self.until(self.now_s + seconds)

    def killed(self, *, written=True):
        """Kill the daemon and start it again: from its texts, or from nothing with all events again."""
        self.on_way.clear()
        texts = relay.parts(self.state) if written else {}
        self.state = relay.resume(self.settings, relay.whole(texts), self.now)
        for event in self.taken:
            self.state = relay.take(self.settings, self.state, event, self.now)
        self._look()
        return self

    def told(self, name=None, kind=None):
        """(person, kind, tags) of what was delivered."""
        return [
            (message.person, message.kind, tuple(alarm.tag for alarm in message.alarms))
            for _, message in self.got
            if name in (None, message.person) and kind in (None, message.kind)
        ]

    def kinds(self, name=None):
        return [kind.value for _, kind, _ in self.told(name)]

    def delivered_ids(self):
        return {one for event in self.events if event.happened == "notified" for one in _ids(event)}

    def happenings(self):
        return [event.happened for event in self.events]

    def _next_s(self):
        return min([relay.due_s(self.state), *[one[0] for one in self.on_way]])

    def _look(self):
        due = relay.look(self.settings, self.state, self.now)
        self.state = due.state
        self.events += due.events
        for message in due.messages:
            self.offered.append((self.now_s, message))
            sent = self.gateway(message, self.now_s)
            self.on_way.append((self.now_s + sent.took_s, message, sent))
        assert relay.due_s(self.state) > self.now_s, "what is due was done"

    def _settle(self, message, sent):
        if sent.delivered:
            self.got.append((self.now_s, message))
        due = relay.settle(self.settings, self.state, message, sent, self.now)
        self.state = due.state
        self.events += due.events


def _ids(event):
    calls = {
        MessageKind.ALARM,
        MessageKind.MORE,
        MessageKind.REMINDER,
        MessageKind.ESCALATION,
        MessageKind.HELD_BACK,
    }
    return event.facts["alarms"].split() if event.facts["message"] in calls else ()
